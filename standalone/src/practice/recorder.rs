//! Writes down what is played.

use sinistra_core::engine::Message;
use sinistra_score::practice::{Take, TakeStroke};

use super::judge::SUSTAIN;

/// Writes strokes down.
#[derive(Default)]
pub struct Recorder {
    strokes: Vec<TakeStroke>,
    /// When the sustain pedal went down or up.
    pedals: Vec<(f64, bool)>,
}

impl Recorder {
    /// Takes in a message, `ms` after the start.
    pub fn hear(&mut self, ms: f64, message: Message) {
        match message {
            Message::On { key, velocity, .. } => {
                self.strokes.push(TakeStroke { at_ms: ms, until_ms: ms, key, velocity });
            }
            Message::Off { key, .. } => {
                let open = self.strokes.iter_mut().rev().find(|stroke| stroke.key == key);
                if let Some(stroke) = open {
                    stroke.until_ms = ms;
                }
            }
            Message::Control { controller: SUSTAIN, value, .. } => {
                self.pedals.push((ms, value >= 64));
            }
            Message::Control { .. } => {}
        }
    }

    /// Everything so far.
    pub fn strokes(&self) -> &[TakeStroke] {
        &self.strokes
    }

    pub fn take(self) -> Take {
        Take::new(self.strokes).with_pedals(self.pedals)
    }
}
