//! How bars of the book, four quarters each, are played in another metre.
//!
//! - In quarters: a bar of two takes half a bar of the book, the other half next
//!   time; three beats are the first, the second and the last, which leads on; five,
//!   six and seven are made of those.
//! - In threes: a dotted beat takes half a bar of the book less its last eighth, so
//!   that eighths run on as eighths and quarters rock (long, short).
//! - Unequal eighths: a pair takes a beat of the book, three take half a bar as above.

use arrayvec::ArrayVec;

use crate::play::accent;
use crate::time::{Metre, Ticks};

/// Beats in a bar of the book.
const BOOK: i64 = 4;

/// A stretch of the book that is played as it stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stretch {
    /// Where it stands, from the bar line of the first bar of the book.
    pub from: Ticks,
    /// How long it is.
    pub length: Ticks,
    /// Where it is played, from our bar line.
    pub to: Ticks,
}

/// The stretches of one bar of ours, in the order in which they are played.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Fit {
    stretches: ArrayVec<Stretch, 16>,
    bar: Ticks,
}

impl Fit {
    /// A bar of the book.
    pub const BAR: Ticks = Ticks(BOOK * Ticks::PER_BEAT);

    /// Whether there is one for `metre`.
    pub const fn fits(metre: Metre) -> bool {
        match metre.unit() {
            2 => metre.beats() == 2,
            4 => metre.beats() >= 2 && metre.beats() <= 7,
            8 => metre.beats() >= 3 && metre.beats() <= 12,
            _ => false,
        }
    }

    /// Of the bar with that number: halves of a bar of the book alternate.
    /// Real-time safe.
    pub fn of(metre: Metre, number: i64) -> Self {
        let mut fit = Self { stretches: ArrayVec::new(), bar: metre.bar() };
        if !Self::fits(metre) {
            return fit;
        }
        if metre.unit() < 8 {
            fit.quarters(metre.bar().0 / Ticks::PER_BEAT, number);
        } else {
            fit.eighths(metre, number);
        }
        fit
    }

    fn quarters(&mut self, beats: i64, number: i64) {
        let second = BOOK * number.rem_euclid(2) / 2;
        let taken: &[i64] = match beats {
            2 => return self.push(second, Ticks(2 * Ticks::PER_BEAT)),
            3 => &[0, 1, 3],
            4 => return self.push(0, Self::BAR),
            5 => &[0, 1, 3, 2, 3],
            6 => &[0, 1, 3, 4, 5, 7],
            _ => &[0, 1, 2, 3, 4, 5, 7],
        };
        taken.iter().for_each(|beat| self.push(*beat, Ticks(Ticks::PER_BEAT)));
    }

    fn eighths(&mut self, metre: Metre, number: i64) {
        let felt = accent::beats(metre);
        // A single dotted beat has the halves of a bar by turns.
        let mut beat = if felt.len() == 1 { BOOK * number.rem_euclid(2) / 2 } else { 0 };
        for here in &felt {
            if here.ternary {
                beat = (beat + 1) / 2 * 2;
            }
            self.push(beat, here.length);
            beat += if here.ternary { 2 } else { 1 };
        }
    }

    /// What stands from `beat` of the book on comes next.
    fn push(&mut self, beat: i64, length: Ticks) {
        let to = self.stretches.last().map_or(Ticks::ZERO, |last| last.to + last.length);
        let _ =
            self.stretches.try_push(Stretch { from: Ticks(beat * Ticks::PER_BEAT), length, to });
    }

    /// A bar of ours.
    pub fn bar(&self) -> Ticks {
        self.bar
    }

    /// Its stretches.
    pub fn stretches(&self) -> &[Stretch] {
        &self.stretches
    }

    /// How many bars of the book it takes.
    pub fn bars(&self) -> u16 {
        let end = self.stretches.iter().map(|stretch| stretch.from.0).max().unwrap_or(0);
        u16::try_from(end / Self::BAR.0 + 1).unwrap_or(u16::MAX)
    }

    /// Whether it goes on in the bar of the book in which the bar of ours before it was.
    pub fn goes_on(&self) -> bool {
        self.stretches.first().is_some_and(|first| first.from > Ticks::ZERO)
    }

    /// The beat of the book, from 0, that is played at a place of our bar.
    pub fn beat(&self, offset: Ticks) -> u8 {
        let here = self.stretches.iter().rev().find(|stretch| stretch.to <= offset);
        let at = here.map_or(offset, |stretch| stretch.from + (offset - stretch.to));
        u8::try_from((at.0 / Ticks::PER_BEAT).clamp(0, 7)).unwrap_or(0)
    }

    /// A count of our bar as it would be in a bar of the book.
    pub fn in_the_book(&self, count: u8) -> u8 {
        u8::try_from(i64::from(count) * Self::BAR.0 / self.bar.0.max(1)).unwrap_or(u8::MAX)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn metres() -> impl Iterator<Item = Metre> {
        [2, 4, 8].into_iter().flat_map(|unit| (1..=12).filter_map(move |n| Metre::new(n, unit)))
    }

    #[test]
    fn a_bar_is_filled_from_its_line_to_the_next() {
        let mut fitted = 0;
        for (metre, number) in metres().filter(|m| Fit::fits(*m)).flat_map(|m| [(m, 0), (m, 1)]) {
            let fit = Fit::of(metre, number);
            let mut at = Ticks::ZERO;
            for stretch in fit.stretches() {
                assert_eq!(stretch.to, at, "{metre:?}");
                at += stretch.length;
                let bars = Ticks(Fit::BAR.0 * i64::from(fit.bars()));
                assert!(stretch.from + stretch.length <= bars, "{metre:?}");
            }
            assert_eq!(at, metre.bar(), "{metre:?}");
            fitted += 1;
        }
        assert_eq!(fitted, 34, "17 metres, each with two bars");
    }

    #[test]
    fn four_quarters_are_as_they_stand() {
        let fit = Fit::of(Metre::COMMON, 7);
        assert_eq!((fit.stretches().len(), fit.bars(), fit.goes_on()), (1, 1, false));
        assert!((0..16).all(|n| fit.beat(Ticks(n * 240)) == n as u8 / 4));
    }

    #[test]
    fn felt_beats_begin_on_beats_of_the_book() {
        for (beats, unit, from) in [
            (3, 4, &[0, 1, 3][..]),
            (6, 8, &[0, 2]),
            (9, 8, &[0, 2, 4]),
            (12, 8, &[0, 2, 4, 6]),
            (7, 8, &[0, 1, 2]),
            (5, 8, &[0, 2]),
            (5, 4, &[0, 1, 3, 2, 3]),
        ] {
            let metre = Metre::new(beats, unit).expect("a metre");
            let fit = Fit::of(metre, 0);
            let found: Vec<_> =
                fit.stretches().iter().map(|s| s.from.0 / Ticks::PER_BEAT).collect();
            assert_eq!(found, from, "{beats}/{unit}");
            let felt: Vec<_> = accent::beats(metre).iter().map(|beat| beat.start).collect();
            assert!(felt.iter().all(|at| fit.stretches().iter().any(|s| s.to == *at)));
        }
    }

    #[test]
    fn two_quarters_have_the_halves_of_a_bar_by_turns() {
        let two = Metre::new(2, 4).expect("a metre");
        let from = |n| Fit::of(two, n).stretches()[0].from.0 / Ticks::PER_BEAT;
        assert_eq!([0, 1, 2, -1].map(from), [0, 2, 0, 2]);
        assert!(!Fit::of(two, 0).goes_on() && Fit::of(two, 1).goes_on());
    }
}
