//! The moment: all that the left hand knows when it is about to strike.

use crate::chord::Chord;
use crate::foresee::Forecast;
use crate::key::Key;
use crate::pitch::{KeyNumber, PitchClass};
use crate::time::{Place, Ticks};

/// What is heard and foreseen at the time of a stroke.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moment {
    /// When the stroke sounds; with the right hand it may be a little before
    /// or after its slot.
    pub at: Ticks,
    /// The bar that the slot lies in.
    pub place: Place,
    /// The chord that holds now.
    pub chord: Chord,
    /// The tone that it begins with: its bass, unless it is in doubt and another
    /// one is likelier right.
    pub first: PitchClass,
    /// Whether this is the first stroke on this chord.
    pub starts: bool,
    /// What comes next, if anything is foreseen.
    pub next: Option<Forecast>,
    /// The key of the song.
    pub key: Key,
    /// The lowest key of the right hand that sounds (or the split, while
    /// nothing sounds): every note of the left hand lies below it.
    pub ceiling: KeyNumber,
    /// How loud the right hand plays, velocity 1..=127.
    pub loudness: u8,
    /// Quarter notes a minute.
    pub tempo: f64,
}
