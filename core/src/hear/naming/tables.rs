//! Tables over all 4,096 sets of pitch classes, computed at compile time.

#![allow(
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    reason = "computed at compile time: an index beyond does not compile"
)]

use super::vocabulary::{Tier, VOCABULARY};
use super::{songs, weights};

/// Sets of pitch classes, the empty one among them.
const SETS: usize = 4096;

/// A set seen from `root`: bit n is the class n semitones above it.
pub(in crate::hear) const fn seen_from(set: u16, root: usize) -> u16 {
    ((set >> root) | (set << (12 - root))) & 0xFFF
}

/// For a set seen from a root: the index in [`VOCABULARY`] of the quality that
/// fits best on that root.
pub(super) static FIT: [u8; SETS] = {
    let (mut fit, mut least) = ([0; SETS], [i32::MAX; SETS]);
    let mut i = 0;
    while i < VOCABULARY.len() {
        // Tone by tone it adds up, but for thirds, which lie in the lower half: halves are
        // added, so that the compiler has a fifth of the work.
        let (mut lower, mut upper, mut half) = ([0; 64], [0; 64], 0);
        while half < 64 {
            lower[half] = misfit(half as u16, i);
            upper[half] = misfit((half as u16) << 6, i) - misfit(0, i);
            half += 1;
        }
        let mut set = 0;
        while set < SETS {
            let cost = lower[set & 63] + upper[set >> 6];
            if cost < least[set] {
                (fit[set], least[set]) = (i as u8, cost);
            }
            set += 1;
        }
        i += 1;
    }
    fit
};

/// What it costs to hear `set` as the quality `index` on its root (by ear):
/// a tone that is not of the quality 25; the third or the tone that stands
/// for it missing 40; a perfect fifth 10; another tone 30.
const fn misfit(set: u16, index: usize) -> i32 {
    let entry = &VOCABULARY[index];
    let power = entry.tones == 1 << 7 | 1;
    let extra = (set & !entry.tones & !1).count_ones();
    let missing = entry.tones & !set & !1;
    // Above the root: thirds, else the suspended tones.
    let thirds = entry.tones & 0b1_1000;
    let third = if thirds != 0 { thirds } else { entry.tones & 0b10_0100 };
    let no_third = third != 0 && missing & third == third;
    let rest = (missing & !third & !(1 << 7)).count_ones();
    let fifth = if missing >> 7 & 1 == 0 {
        0
    } else if power {
        40
    } else {
        10
    };
    // A bare fifth is a power chord; anything more is something else.
    (extra * 25 + no_third as u32 * 40 + rest * 30 + fifth + power as u32 * 38) as i32
}

/// For a set seen from a root: the tier in which it is exactly a quality on
/// that root; 0 if it is none.
const TIER: [u8; SETS] = {
    let mut tier = [0; SETS];
    let mut i = VOCABULARY.len();
    // Backwards, so that the better tier is written last.
    while i > 0 {
        i -= 1;
        tier[VOCABULARY[i].tones as usize] = VOCABULARY[i].tier as u8;
    }
    tier
};

/// For a set: the roots on which it is exactly a quality of its best tier,
/// bit n for root n, and that tier above them (bits 12 and 13).
static EXACT: [u16; SETS] = {
    let mut exact = [0; SETS];
    let mut set = 0;
    while set < SETS {
        let (mut roots, mut best) = (0u16, u8::MAX);
        let mut root = 0;
        while root < 12 {
            let tier = TIER[seen_from(set as u16, root) as usize];
            if tier != 0 && tier < best {
                (roots, best) = (0, tier);
            }
            if tier != 0 && tier == best {
                roots |= 1 << root;
            }
            root += 1;
        }
        exact[set] = if roots == 0 { 0 } else { roots | (best as u16) << 12 };
        set += 1;
    }
    exact
};

/// The entry of [`EXACT`] for a set.
pub(in crate::hear) fn exact(set: u16) -> u16 {
    EXACT[usize::from(set % 4096)]
}

/// That of [`SPEAKS_FOR`] for a set seen from a root.
pub(in crate::hear) fn speaks_for(seen: u16) -> f32 {
    SPEAKS_FOR[usize::from(seen % 4096)]
}

/// The tier of an entry of [`EXACT`].
pub(super) const fn tier_of(exact: u16) -> Option<Tier> {
    match exact >> 12 {
        1 => Some(Tier::Plain),
        2 => Some(Tier::Extended),
        3 => Some(Tier::NoFifth),
        _ => None,
    }
}

/// For a set seen from a root: how much it speaks for that root, in nats,
/// from the weights of its tones and of its pairs of tones.
static SPEAKS_FOR: [f32; SETS] = {
    let mut score = [0.0; SETS];
    let mut set = 0;
    while set < SETS {
        let (mut pair, mut low) = (0, 0);
        while low < 12 {
            if set >> low & 1 == 1 {
                score[set] += weights::TONE[low];
            }
            let mut high = low + 1;
            while high < 12 {
                if set >> low & set >> high & 1 == 1 {
                    score[set] += weights::PAIR[pair];
                }
                pair += 1;
                high += 1;
            }
            low += 1;
        }
        set += 1;
    }
    score
};

/// For a set seen from a root: its row in the tables of [`songs`], and
/// `NO_ROW` if songs hardly have it.
pub(super) static ROW: [u16; SETS] = {
    let mut row = [NO_ROW; SETS];
    let mut i = 0;
    while i < songs::SEEN.len() {
        row[songs::SEEN[i] as usize] = i as u16;
        i += 1;
    }
    row
};

/// See [`ROW`].
const NO_ROW: u16 = u16::MAX;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_set_seen_from_its_root() {
        // A C E seen from A: a minor triad.
        assert_eq!(seen_from(1 << 9 | 1 | 1 << 4, 9), 1 | 1 << 3 | 1 << 7);
    }

    #[test]
    fn what_fits_best_costs_least_and_comes_first() {
        for (set, &fit) in (0..).zip(&FIT) {
            let least = (0..VOCABULARY.len()).min_by_key(|&i| misfit(set, i));
            assert_eq!(Some(usize::from(fit)), least, "{set:b}");
        }
    }

    #[test]
    fn four_roots_fit_a_diminished_seventh() {
        assert_eq!(EXACT[0b0010_0100_1001], 0b0010_0100_1001 | 1 << 12);
    }
}
