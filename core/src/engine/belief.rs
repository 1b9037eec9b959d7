//! One belief for an instant.

use crate::belief::begin::Begin;
use crate::foresee::Forecast;
use crate::hear::Hearing;
use crate::key::Key;
use crate::pitch::KeyNumber;
use crate::play::Moment;
use crate::time::{Place, Ticks};

/// What is believed at one instant: the chord, the key, what comes, how sure
/// each is. Asked once ([`Memory::believe`](super::memory::Memory::believe)), then
/// handed on to all that decide what is struck.
#[derive(Clone, Copy, Debug)]
pub struct Belief {
    /// The instant.
    pub at: Ticks,
    /// The bar that it lies in.
    pub place: Place,
    /// Quarter notes a minute.
    pub tempo: f64,
    /// The chord now.
    pub hearing: Hearing,
    /// The next chord.
    pub next: Option<Forecast>,
    /// The key of the song, as set or heard.
    pub key: Key,
    /// The lowest key of the right hand that sounds, or the split.
    pub ceiling: KeyNumber,
    /// How loud the right hand plays, velocity 1..=127.
    pub loudness: u8,
}

impl Belief {
    /// What the hand is to know to play `begin`, `starts` if that is the first
    /// stroke to its chord.
    pub fn moment(&self, begin: Begin, starts: bool) -> Moment {
        Moment {
            at: self.at,
            place: self.place,
            chord: begin.chord,
            first: begin.class,
            starts,
            next: self.next.filter(|next| next.at > self.at),
            key: self.key,
            ceiling: self.ceiling,
            loudness: self.loudness,
            tempo: self.tempo,
        }
    }
}
