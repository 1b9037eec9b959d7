//! What must hold for every note that the engine sends, whoever listens: the tests,
//! the long gig and the fuzzers.

use std::collections::BTreeSet;

use sinistra_core::engine::{Message, Timed};
use sinistra_core::pitch::KeyNumber;

/// Which notes sound; fails at one that is struck twice, ended twice or out of order.
#[derive(Debug, Default)]
pub struct Balance {
    frames: u32,
    last: u32,
    sounding: BTreeSet<(u8, KeyNumber)>,
}

impl Balance {
    /// A block of so many frames begins.
    pub fn begin(&mut self, frames: u32) {
        (self.frames, self.last) = (frames, 0);
    }

    /// Takes what was sent.
    ///
    /// # Panics
    /// If it may not be sent.
    pub fn take(&mut self, event: &Timed) {
        assert!(event.frame < self.frames.max(1), "{event:?} in {} frames", self.frames);
        assert!(event.frame >= self.last, "{event:?} after frame {}", self.last);
        self.last = event.frame;
        match event.message {
            Message::On { channel, key, velocity } => {
                assert!((1..=127).contains(&velocity) && channel < 16, "{event:?}");
                assert!(self.sounding.insert((channel, key)), "{event:?} sounds already");
            }
            Message::Off { channel, key, .. } => {
                assert!(self.sounding.remove(&(channel, key)), "{event:?} does not sound");
            }
            Message::Control { .. } => {}
        }
    }

    /// The keys that sound.
    pub fn keys(&self) -> impl Iterator<Item = KeyNumber> + '_ {
        self.sounding.iter().map(|(_, key)| *key)
    }

    /// Fails if a note sounds.
    ///
    /// # Panics
    /// Then, with `when`.
    pub fn silent(&self, when: &str) {
        assert!(self.sounding.is_empty(), "{when}: {:?}", self.sounding);
    }
}
