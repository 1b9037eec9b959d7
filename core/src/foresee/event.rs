//! A chord as foresight remembers it: a stretch of one root on the grid.

use super::triad::TriadShape;
use crate::chord::Chord;
use crate::time::{Place, Ticks};

/// The most stretches that are remembered; the oldest quarter makes room.
pub const CAPACITY: usize = 1024;

/// How late a hand may be and still mean the beat: an eighth of a beat.
pub const LATE: Ticks = Ticks(Ticks::PER_BEAT / 8);

/// A stretch of one root.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RootSpan {
    /// When it was struck, to the grid that players mean (see [`snap`]).
    pub at: Ticks,
    /// Its root, C = 0.
    pub root: u8,
    /// Its third and fifth.
    pub triad: TriadShape,
    /// As it was struck; later changes of its colour are not kept.
    pub chord: Chord,
    /// The bar's number.
    pub bar: i64,
    /// From the bar line.
    pub offset: Ticks,
    /// Length of the bar, one tick at least.
    pub bar_length: Ticks,
    /// Length of the felt beat, one tick at least.
    pub pulse: Ticks,
    /// When the hand let go before the next chord came.
    pub ended: Option<Ticks>,
}

impl RootSpan {
    /// A chord struck at `at` in the bar `place`.
    pub fn new(at: Ticks, chord: Chord, place: Place) -> Self {
        let at = snap(at, place);
        let place = place.of(at);
        Self {
            at,
            root: chord.root.number(),
            triad: TriadShape::of(chord),
            chord,
            bar: place.number,
            offset: place.offset(at),
            bar_length: place.metre.bar().max(Ticks(1)),
            pulse: place.metre.pulse().max(Ticks(1)),
            ended: None,
        }
    }

    /// The same moment, another chord.
    #[must_use]
    pub fn with_chord(self, chord: Chord) -> Self {
        Self { root: chord.root.number(), triad: TriadShape::of(chord), chord, ..self }
    }
}

/// The grid point that a hand means which strikes at `at`: the beat or the
/// "and" if it lies within a fifth of a beat, else the nearest sixteenth or
/// triplet.
pub fn snap(at: Ticks, place: Place) -> Ticks {
    let pulse = place.metre.pulse().0.max(4);
    let from_bar = at.0.saturating_sub(place.bar.0);
    let nearest = |step: i64| from_bar.saturating_add(step / 2).div_euclid(step) * step;
    let half = nearest(pulse / 2);
    let meant = if (from_bar - half).abs() * 5 <= pulse {
        half
    } else {
        let (fourth, third) = (nearest(pulse / 4), nearest(pulse / 3));
        if (from_bar - fourth).abs() <= (from_bar - third).abs() { fourth } else { third }
    };
    Ticks(place.bar.0.saturating_add(meant))
}
