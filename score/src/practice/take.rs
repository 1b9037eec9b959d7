//! What was played: strokes on a clock of milliseconds.

use sinistra_core::pitch::KeyNumber;

/// One stroke of a take.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TakeStroke {
    /// Milliseconds from the start of the take.
    pub at_ms: f64,
    /// When the key came up.
    pub until_ms: f64,
    /// The key struck.
    pub key: KeyNumber,
    /// 1..=127.
    pub velocity: u8,
}

/// A recorded attempt: strokes in time order, the lower key first of two at
/// the same time.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Take {
    strokes: Vec<TakeStroke>,
    /// When the sustain pedal went down or up, milliseconds, in time order.
    pedals: Vec<(f64, bool)>,
}

impl Take {
    /// Sorts the strokes; what is not a finite time is left out.
    #[must_use]
    pub fn new(mut strokes: Vec<TakeStroke>) -> Self {
        strokes.retain(|stroke| stroke.at_ms.is_finite());
        strokes.sort_by(|a, b| a.at_ms.total_cmp(&b.at_ms).then(a.key.cmp(&b.key)));
        Self { strokes, pedals: Vec::new() }
    }

    /// The same with the sustain pedal's way: milliseconds, and whether it went down.
    #[must_use]
    pub fn with_pedals(mut self, mut pedals: Vec<(f64, bool)>) -> Self {
        pedals.retain(|pedal| pedal.0.is_finite());
        pedals.sort_by(|a, b| a.0.total_cmp(&b.0));
        self.pedals = pedals;
        self
    }

    /// When the sustain pedal went down or up, in time order.
    #[must_use]
    pub fn pedals(&self) -> &[(f64, bool)] {
        &self.pedals
    }

    /// The strokes in time order.
    #[must_use]
    pub fn strokes(&self) -> &[TakeStroke] {
        &self.strokes
    }
}
