//! The bar's inner order: felt beats, how strong each place is, what is beamed.

use sinistra_core::play::accent;
use sinistra_core::time::{Metre, Ticks};

/// The finest value written, a sixteenth.
pub(super) const FINEST: i64 = Ticks::PER_BEAT / 4;

/// Strengths of places in a bar, from the bar line down.
pub(super) const LINE: u8 = 5;
/// The middle of a bar of four beats, the second part of 5/4.
pub(super) const HALF: u8 = 4;
/// A felt beat.
pub(super) const BEAT: u8 = 3;
/// An eighth (or the unit) inside a beat.
pub(super) const EIGHTH: u8 = 2;

/// Where the felt beats of a bar start, and where it ends.
pub(super) fn beats(metre: Metre) -> Vec<i64> {
    let starts = accent::beats(metre).into_iter().map(|beat| beat.start.0);
    starts.chain([metre.bar().0]).collect()
}

/// How strong the place `offset` after the bar line is.
pub(super) fn strength(metre: Metre, offset: i64) -> u8 {
    let offset = offset.rem_euclid(metre.bar().0);
    let beats = accent::beats(metre);
    let beat = beats.iter().find(|beat| beat.start.0 == offset);
    match (offset, beat) {
        (0, _) => LINE,
        // The second part of a bar that has two.
        (_, Some(beat)) if beats.len() >= 4 && beat.level == 1 => HALF,
        (_, Some(_)) => BEAT,
        _ if offset % (Ticks::PER_BEAT / 2) == 0 => EIGHTH,
        _ if offset % FINEST == 0 => 1,
        _ => 0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn beats_are_felt_as_musicians_count_them() {
        for (beats, unit, starts) in [
            (4, 4, vec![0, 960, 1920, 2880, 3840]),
            (6, 8, vec![0, 1440, 2880]),
            (7, 8, vec![0, 960, 1920, 3360]),
            (5, 4, vec![0, 960, 1920, 2880, 3840, 4800]),
        ] {
            let metre = Metre::new(beats, unit).expect("a metre");
            assert_eq!(super::beats(metre), starts, "{beats}/{unit}");
        }
    }

    #[test]
    fn the_third_beat_of_four_is_stronger_than_the_second() {
        let metre = Metre::COMMON;
        let strengths: Vec<u8> =
            [0, 1920, 960, 480, 240].map(|at| strength(metre, at)).into_iter().collect();
        assert_eq!(strengths, [LINE, HALF, BEAT, EIGHTH, 1]);
    }
}
