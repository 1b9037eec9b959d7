//! The count of the trade: `1 & 2 &`, `1 e & a`; compound metres in eighths.

use std::fmt;

use serde::{Serialize, Serializer};

use sinistra_core::time::{Metre, Ticks};

/// A place in the bar as it is counted aloud.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Count {
    /// The number called, from 1.
    pub number: u8,
    /// Where within that number.
    pub part: Syllable,
}

/// The syllable after the number (common practice of English-language teaching).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Syllable {
    /// On the number itself.
    On,
    /// The first quarter after it.
    E,
    /// Half way.
    And,
    /// Three quarters after it.
    A,
    /// The second of three.
    Trip,
    /// The third of three.
    Let,
    /// Anywhere else (ornaments).
    Between,
}

impl Count {
    /// The count `offset` after the bar line. Simple metres count their lower
    /// figure; compound metres, 5/8 and 7/8 count eighths.
    #[must_use]
    pub fn of(metre: Metre, offset: Ticks) -> Self {
        let unit = metre.unit_ticks().0;
        let number = offset.0.div_euclid(unit) + 1;
        let part = match offset.0.rem_euclid(unit) * 12 {
            0 => Syllable::On,
            q if q == unit * 3 => Syllable::E,
            q if q == unit * 6 => Syllable::And,
            q if q == unit * 9 => Syllable::A,
            q if q == unit * 4 => Syllable::Trip,
            q if q == unit * 8 => Syllable::Let,
            _ => Syllable::Between,
        };
        Self { number: u8::try_from(number).unwrap_or(u8::MAX), part }
    }

    /// What is called aloud there and printed under the note: `2`, `&`, `e`, `a`.
    #[must_use]
    pub fn syllable(self) -> String {
        match self.part {
            Syllable::On => self.number.to_string(),
            Syllable::E => "e".into(),
            Syllable::And => "&".into(),
            Syllable::A => "a".into(),
            Syllable::Trip => "trip".into(),
            Syllable::Let => "let".into(),
            Syllable::Between => "·".into(),
        }
    }

    /// On a number.
    #[must_use]
    pub fn is_on(self) -> bool {
        self.part == Syllable::On
    }
}

/// In a sentence: `2`, `2-and`, `2-e`, `2-a`.
impl fmt::Display for Count {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let part = match self.part {
            Syllable::On => "",
            Syllable::E => "-e",
            Syllable::And => "-and",
            Syllable::A => "-a",
            Syllable::Trip => "-trip",
            Syllable::Let => "-let",
            Syllable::Between => " (between)",
        };
        write!(f, "{}{part}", self.number)
    }
}

impl Serialize for Count {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_are_called_as_a_teacher_counts() {
        for (beats, unit, offset, said, printed) in [
            (4, 4, 0, "1", "1"),
            (4, 4, 1440, "2-and", "&"),
            (4, 4, 240, "1-e", "e"),
            (4, 4, 3600, "4-a", "a"),
            (6, 8, 1440, "4", "4"), // compound metres count eighths
            (7, 8, 2880, "7", "7"),
            (3, 4, 320, "1-trip", "trip"), // a triplet
        ] {
            let metre = Metre::new(beats, unit).expect("a metre");
            let count = Count::of(metre, Ticks(offset));
            assert_eq!((count.to_string(), count.syllable()), (said.into(), printed.into()));
        }
    }
}
