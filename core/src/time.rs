//! Musical time: ticks, metres, and the place in a bar.

use core::ops::{Add, AddAssign, Div, Mul, Neg, Sub};

/// The whole number at or below `number`. Where the compiler may not count on an
/// instruction for it, `f64::floor` is a call, which every block would feel.
pub fn floor(number: f64) -> f64 {
    const ALL_WHOLE: f64 = (1u64 << 52) as f64;
    if number.abs() < ALL_WHOLE {
        let cut = number as i64 as f64;
        if cut > number { cut - 1.0 } else { cut }
    } else {
        number // from here on there are no others (or it is none)
    }
}

/// Musical time since the start of the song, or a span of it. A beat here is
/// a quarter note, as in MIDI files and hosts. Negative during pre-roll.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Ticks(pub i64);

impl Ticks {
    /// Divides by 2, 3, 4, 5 and their usual combinations, so triplets are exact.
    pub const PER_BEAT: i64 = 960;

    /// The start of the song.
    pub const ZERO: Self = Self(0);

    /// The nearest tick to a position in quarter notes. Ties go up, whatever
    /// the rounding error of the host's sum (2e-6 of a tick at most).
    pub fn nearest(beats: f64) -> Self {
        Self(floor(beats * Self::PER_BEAT as f64 + 0.5 + 1e-6) as i64)
    }

    /// How long it is, whichever way.
    #[must_use]
    pub const fn abs(self) -> Self {
        Self(self.0.saturating_abs())
    }

    /// How many whole `step`s lie in it, rounded down.
    pub const fn div_euclid(self, step: Self) -> i64 {
        self.0.div_euclid(step.0)
    }

    /// What is left beyond whole `step`s: from 0 to less than one.
    #[must_use]
    pub const fn rem_euclid(self, step: Self) -> Self {
        Self(self.0.rem_euclid(step.0))
    }

    /// In quarter notes.
    pub fn beats(self) -> f64 {
        self.0 as f64 / Self::PER_BEAT as f64
    }

    /// The span of `milliseconds` at `tempo` quarter notes a minute.
    pub fn of_ms(milliseconds: f64, tempo: f64) -> Self {
        Self::nearest(milliseconds * tempo / 60_000.0)
    }
}

impl Add for Ticks {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0.saturating_add(other.0))
    }
}

impl AddAssign for Ticks {
    fn add_assign(&mut self, other: Self) {
        *self = *self + other;
    }
}

impl Sub for Ticks {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0.saturating_sub(other.0))
    }
}

impl Neg for Ticks {
    type Output = Self;
    fn neg(self) -> Self {
        Self(self.0.saturating_neg())
    }
}

impl Mul<i64> for Ticks {
    type Output = Self;
    fn mul(self, times: i64) -> Self {
        Self(self.0.saturating_mul(times))
    }
}

impl Div<i64> for Ticks {
    type Output = Self;
    fn div(self, parts: i64) -> Self {
        Self(self.0 / parts)
    }
}

/// A time signature: `beats` notes of 1/`unit` in a bar.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Metre {
    beats: u8,
    unit: u8,
}

impl Metre {
    /// 4/4.
    pub const COMMON: Self = Self { beats: 4, unit: 4 };

    /// `None` unless 1 ≤ `beats` ≤ 32 and `unit` is 1, 2, 4, 8, 16 or 32.
    pub const fn new(beats: u8, unit: u8) -> Option<Self> {
        if beats >= 1 && beats <= 32 && unit <= 32 && unit.is_power_of_two() {
            Some(Self { beats, unit })
        } else {
            None
        }
    }

    /// The upper figure.
    pub const fn beats(self) -> u8 {
        self.beats
    }

    /// The lower figure.
    pub const fn unit(self) -> u8 {
        self.unit
    }

    /// Length of a note of the lower figure.
    pub const fn unit_ticks(self) -> Ticks {
        Ticks((Ticks::PER_BEAT * 4) >> self.unit.trailing_zeros()) // a power of two
    }

    /// Length of a bar.
    pub const fn bar(self) -> Ticks {
        Ticks(self.unit_ticks().0 * self.beats as i64)
    }

    /// 6/8, 9/8, 12/8 and the like: felt in threes, counted in eighths.
    pub const fn is_compound(self) -> bool {
        self.unit >= 8 && self.beats >= 6 && self.beats.is_multiple_of(3)
    }

    /// The beat that is felt: a quarter in 4/4, a dotted quarter in 6/8.
    pub const fn pulse(self) -> Ticks {
        let unit = self.unit_ticks();
        if self.is_compound() { Ticks(unit.0 * 3) } else { unit }
    }

    /// How many whole beats are felt in a bar: four in 4/4, two in 6/8.
    pub const fn felt_beats(self) -> i64 {
        self.bar().div_euclid(self.pulse())
    }
}

/// Where a tick lies: the bar it is in and how far into it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Place {
    /// The bar line at or before.
    pub bar: Ticks,
    /// The metre of this bar.
    pub metre: Metre,
    /// The bar's number; 0 is the bar that starts at or holds tick 0.
    pub number: i64,
}

impl Place {
    /// The bar that starts at tick 0.
    pub const fn first(metre: Metre) -> Self {
        Self { bar: Ticks::ZERO, metre, number: 0 }
    }

    /// The place of `at`, going on in this bar's metre without a change.
    #[must_use]
    pub const fn of(self, at: Ticks) -> Self {
        let (from_bar, length) = (at.0 - self.bar.0, self.metre.bar().0);
        if 0 <= from_bar && from_bar < length {
            return self; // nearly always, and without a division
        }
        let bars = from_bar.div_euclid(length);
        Self {
            bar: Ticks(self.bar.0 + bars * length),
            metre: self.metre,
            number: self.number + bars,
        }
    }

    /// The felt beat that `at` lies in, from 1.
    pub const fn felt_beat(self, at: Ticks) -> i64 {
        self.offset(at).div_euclid(self.metre.pulse()) + 1
    }

    /// Ticks from the bar line to `at`.
    pub const fn offset(self, at: Ticks) -> Ticks {
        Ticks(at.0 - self.bar.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn whole_numbers_are_those_of_the_library() {
        for number in [0.0, -0.25, 0.75, -1.0, 7.0, 1e9 + 0.5, -1e9 - 0.5, 1e300, -1e17] {
            assert_eq!(floor(number), f64::floor(number), "{number}");
        }
    }

    #[test]
    fn bars_have_their_lengths() {
        for (beats, unit, length, pulse, felt) in [
            (4, 4, 3840, 960, 4),
            (3, 4, 2880, 960, 3),
            (6, 8, 2880, 1440, 2),
            (7, 8, 3360, 480, 7),
            (12, 8, 5760, 1440, 4),
        ] {
            let metre = Metre::new(beats, unit).expect("a metre");
            let lengths = (metre.bar().0, metre.pulse().0, metre.felt_beats());
            assert_eq!(lengths, (length, pulse, felt), "{beats}/{unit}");
        }
        assert_eq!(Metre::new(4, 3), None);
        assert_eq!(Metre::new(0, 4), None);
    }

    #[test]
    fn a_place_before_zero_lies_in_the_bar_before() {
        let start = Place::first(Metre::COMMON);
        let place = start.of(Ticks(-1));
        assert_eq!((place.bar, place.number), (Ticks(-3840), -1));
    }

    #[test]
    fn felt_beats_are_counted_from_one() {
        let place = Place::first(Metre::new(6, 8).expect("a metre")).of(Ticks(2880));
        let beats = [2880, 2881, 4319, 4320, 5759].map(|at| place.felt_beat(Ticks(at)));
        assert_eq!(beats, [1, 1, 1, 2, 2]);
    }

    #[test]
    fn the_nearest_tick_to_a_beat() {
        let ticks = [0.5 / 960.0, 0.4 / 960.0, -0.4 / 960.0, 1.0, 1.0 - 0.6 / 960.0];
        assert_eq!(ticks.map(|beats| Ticks::nearest(beats).0), [1, 0, 0, 960, 959]);
        // Half a tick, as a host that has six digits says it.
        assert_eq!(Ticks::nearest(0.000_520_833).0, 1);
    }
}
