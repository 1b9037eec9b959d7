//! What is known of the chords at one moment from a right hand heard ahead.

use crate::chord::Chord;
use crate::foresee::{Forecast, Source};
use crate::hear::Expected;
use crate::time::Ticks;

/// How sure a chord is that was heard ahead: a right hand alone names about
/// five roots in six (see the figures of the hearing room).
const CERTAINTY: f32 = 0.85;

/// The same of a chord that the ear itself doubts.
const DOUBTED: f32 = 0.5;

/// A chord and when it was struck.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Struck {
    /// When.
    pub at: Ticks,
    /// The chord.
    pub chord: Chord,
    /// Whether it is fairly sure.
    pub sure: bool,
}

impl Struck {
    fn certainty(&self) -> f32 {
        if self.sure { CERTAINTY } else { DOUBTED }
    }
}

/// The chord that holds and the one that follows it.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Known {
    /// What holds.
    pub now: Option<Struck>,
    /// What comes next, as far as was heard.
    pub next: Option<Struck>,
}

impl Known {
    /// For the ear: which chord, and whether it begins here.
    pub fn expected(&self, at: Ticks) -> Option<Expected> {
        let now = self.now?;
        let root = now.chord.root.index();
        let certainty = now.certainty();
        let odds = [(1.0 - certainty) / 11.0; 12];
        let mut expected = Expected { odds, told: true, ..Expected::NOTHING };
        if let (Some(odds), Some(chord)) =
            (expected.odds.get_mut(root), expected.chords.get_mut(root))
        {
            *odds = certainty;
            *chord = Some(now.chord);
        }
        let here = (at - now.at).0.abs() <= Ticks::PER_BEAT / 8;
        expected.change = Some(if here { 0.95 } else { 0.05 });
        Some(expected)
    }

    /// For the hand: what comes, with its time.
    pub fn next(&self, at: Ticks) -> Option<Forecast> {
        let next = self.next.filter(|next| next.at > at)?;
        Some(Forecast {
            chord: next.chord,
            at: next.at,
            certainty: next.certainty(),
            when_certainty: CERTAINTY,
            together: next.certainty().min(CERTAINTY),
            source: Source::LookAhead,
        })
    }
}
