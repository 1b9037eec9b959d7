//! Metrical accent: how strong each place of a bar is.
//!
//! The bar is divided into felt beats, the beats into halves or thirds, and so
//! on; a place is as strong as the coarsest division that it starts.
//!
//! Source: the tree of metrical levels of H. C. Longuet-Higgins & C. S. Lee,
//! "The Rhythmic Interpretation of Monophonic Music", Music Perception 1(4),
//! 1984 (there 0 for the bar line, −1, −2 … below it) and the dot grids of
//! F. Lerdahl & R. Jackendoff, "A Generative Theory of Tonal Music", 1983;
//! from memory. Unequal bars (5/4 as 3 + 2, 7/8 as 2 + 2 + 3): common practice.

use arrayvec::ArrayVec;

use crate::maths;
use crate::time::{Metre, Ticks};

/// A beat that is felt: a quarter in 4/4, a dotted quarter in 6/8, two or
/// three eighths in 7/8.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct FeltBeat {
    /// From the bar line.
    pub start: Ticks,
    /// How long it is.
    pub length: Ticks,
    /// Divided in three (else in two).
    pub ternary: bool,
    /// 0 the bar line, 1 the next strongest …
    pub level: u8,
}

/// The felt beats of a bar, in order.
pub type Beats = ArrayVec<FeltBeat, 32>;

/// The felt beats of a bar in `metre`. Real-time safe.
pub fn beats(metre: Metre) -> Beats {
    let unit = metre.unit_ticks();
    let units = i64::from(metre.beats());
    let (twos, threes) = ((unit.0 * 2, false), (unit.0 * 3, true));
    // So many of a length, then so many of another.
    let [first, then] = if metre.is_compound() {
        [(units / 3, threes), (0, twos)]
    } else if metre.unit() >= 8 {
        match units {
            5 => [(1, threes), (1, twos)],
            1 => [(1, (unit.0, false)), (0, twos)],
            _ => [((units - 3 * (units % 2)) / 2, twos), (units % 2, threes)],
        }
    } else {
        // Halves and whole notes are felt in quarters while there is room.
        let quarters = unit.0 / Ticks::PER_BEAT * units;
        let length = if quarters <= 16 { Ticks::PER_BEAT } else { unit.0 };
        [(metre.bar().0 / length, (length, false)), (0, twos)]
    };
    let mut beats = Beats::new();
    let count = maths::count(first.0 + then.0).min(beats.capacity());
    let mut start = Ticks::ZERO;
    for (many, (length, ternary)) in [first, then] {
        for _ in 0..many {
            let (length, level) = (Ticks(length), beat_level(beats.len(), count));
            let _ = beats.try_push(FeltBeat { start, length, ternary, level });
            start += length;
        }
    }
    beats
}

/// The level of beat `index` in a bar of `count` felt beats.
const fn beat_level(index: usize, count: usize) -> u8 {
    if index == 0 {
        return 0;
    }
    // The beat that starts the bar's second part.
    let second = match count {
        2 | 3 => return 1,
        4 => 2,
        5 => 3,
        6 => 3,
        7 => 4,
        _ => {
            return if index.is_multiple_of(4) {
                1
            } else if index.is_multiple_of(2) {
                2
            } else {
                3
            };
        }
    };
    if index == second { 1 } else { 2 }
}

/// How strong the place `offset` ticks after the bar line is: 0 the bar line,
/// larger is weaker. Real-time safe.
pub fn level(beats: &Beats, offset: Ticks) -> u8 {
    let deepest = beats.iter().map(|beat| beat.level).max().unwrap_or(0);
    let Some(beat) = beats.iter().rev().find(|beat| beat.start <= offset) else { return 0 };
    let into = (offset - beat.start).0;
    let part = beat.length.0 / if beat.ternary { 3 } else { 2 };
    if into == 0 {
        beat.level
    } else if into % part == 0 {
        deepest + 1
    } else if into * 2 % part == 0 {
        deepest + 2
    } else {
        deepest + 3
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The level of every place of a bar, `step` ticks apart.
    fn levels(upper: u8, lower: u8, step: i64) -> String {
        let metre = Metre::new(upper, lower).expect("a metre");
        let beats = beats(metre);
        (0..metre.bar().0 / step).map(|n| level(&beats, Ticks(n * step)).to_string()).collect()
    }

    #[test]
    fn the_grid_of_each_metre() {
        for (upper, lower, expected) in [
            (2, 4, "0212"),
            (3, 4, "021212"),
            (4, 4, "03231323"),
            (5, 4, "0323231323"), // 3 + 2
            (6, 8, "022122"),
            (7, 8, "0212122"), // 2 + 2 + 3
            (9, 8, "022122122"),
            (12, 8, "033233133233"),
            (5, 8, "02212"), // 3 + 2
            (2, 2, "03231323"),
        ] {
            assert_eq!(levels(upper, lower, 480), expected, "{upper}/{lower}");
        }
        assert_eq!(levels(2, 4, 240), "03231323");
    }

    #[test]
    fn the_beats_of_every_metre_fill_its_bar() {
        for upper in 1..=32 {
            for lower in [1, 2, 4, 8, 16, 32] {
                let metre = Metre::new(upper, lower).expect("a metre");
                let sum: i64 = beats(metre).iter().map(|beat| beat.length.0).sum();
                assert_eq!(sum, metre.bar().0, "{upper}/{lower}");
            }
        }
    }
}
