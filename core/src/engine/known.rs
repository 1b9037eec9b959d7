//! What is known of the chords at one moment from a right hand heard ahead.

use crate::chord::Chord;
use crate::foresee::{Forecast, Source};
use crate::hear::AheadOdds;
use crate::time::Ticks;

/// How sure it is when a chord is struck that was heard ahead (this and what follows:
/// as often as it came true on songs of POP909-CL that the ear did not know,
/// `song_figures --learned --ahead`).
const WHEN: f32 = 0.9;

/// What is less sure is left to foresight, which knows what it does not know.
const ENOUGH: f32 = 0.8;

/// How much oftener than its ear doubts it another chord comes: the one that holds may
/// be misheard as well. Chords a third apart share two tones, and are taken for each
/// other.
const DOUBT: f32 = 1.6;
const DOUBT_A_THIRD_AWAY: f32 = 3.0;

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
        let third = self.now.is_some_and(|now| {
            let (holds, comes) = (now.chord.root, next.chord.root);
            holds.is_third_above(comes) || comes.is_third_above(holds)
        });
        let doubt = if third { DOUBT_A_THIRD_AWAY } else { DOUBT };
        let sure = 1.0 - doubt * (1.0 - next.sure);
        let forecast = Forecast::new(next.chord, next.at, sure, Source::LookAhead);
        Some(Forecast { when_certainty: WHEN, together: sure * WHEN, ..forecast })
    }
}
