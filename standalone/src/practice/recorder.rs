//! Writes down what is played.

use std::collections::HashMap;

use sinistra_core::midi::{Message, SUSTAIN};
use sinistra_core::pitch::KeyNumber;
use sinistra_score::practice::{Take, TakeStroke};

/// Writes strokes down.
#[derive(Default)]
pub struct Recorder {
    strokes: Vec<TakeStroke>,
    /// Of each key that is down, on its channel, the stroke.
    open: HashMap<(u8, KeyNumber), usize>,
    /// When the sustain pedal went down or up.
    pedals: Vec<(f64, bool)>,
}

impl Recorder {
    /// Takes in a message, `ms` after the start.
    pub fn hear(&mut self, ms: f64, message: Message) {
        match message {
            Message::On { channel, key, velocity } => {
                self.open.insert((channel, key), self.strokes.len());
                self.strokes.push(TakeStroke { at_ms: ms, until_ms: ms, key, velocity });
            }
            Message::Off { channel, key, .. } => {
                let open = self.open.remove(&(channel, key));
                if let Some(stroke) = open.and_then(|open| self.strokes.get_mut(open)) {
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
