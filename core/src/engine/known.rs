//! What is known of the chords at one moment from a right hand heard ahead.

use crate::chord::Chord;
use crate::foresee::{Forecast, Source};
use crate::hear::AheadOdds;
use crate::time::Ticks;

/// How sure it is when a chord is struck that was heard ahead.
const WHEN: f32 = 0.85;

/// What is less sure is left to foresight, which knows what it does not know.
const ENOUGH: f32 = 0.8;

/// The most that is believed of a chord that was heard ahead.
const MOST: f32 = 0.97;

/// A chord and when it was struck.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Struck {
    /// When.
    pub at: Ticks,
    /// The chord.
    pub chord: Chord,
    /// How sure its root is, 0..=1, by the ear that has heard more.
    pub sure: f32,
}

/// The chord that holds and the one that follows it.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Known {
    /// What holds.
    pub now: Option<Struck>,
    /// What comes next, as far as was heard.
    pub next: Option<Struck>,
    /// Odds of the root at this moment by an ear that has heard what follows.
    pub roots: Option<AheadOdds>,
}

impl Known {
    /// For the hand: what comes, with its time.
    pub fn next(&self, at: Ticks) -> Option<Forecast> {
        let next = self.next.filter(|next| next.at > at && next.sure >= ENOUGH)?;
        let (sure, source) = (next.sure.min(MOST), Source::LookAhead);
        let forecast = Forecast::new(next.chord, next.at, sure, source);
        Some(Forecast { when_certainty: WHEN, together: sure * WHEN, ..forecast })
    }
}
