//! A quality: a kind with its added, altered and left-out degrees.

use super::Kind;
use crate::pitch::{PitchClass, PitchSet};

/// How a degree departs from its kind (MusicXML 4.0 `degree-type-value`).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[allow(missing_docs, reason = "their names say it")]
pub enum Alteration {
    Add,
    Alter,
    Subtract,
}

/// One added, altered or left-out degree, such as the ♭5 of C7♭5.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Degree {
    /// Degree above the root, 1..=13.
    pub value: u8,
    /// Semitones by which it differs from the major or perfect interval (from
    /// the minor seventh for 7, as in the standard).
    pub alter: i8,
    /// Added, altered or left out.
    pub change: Alteration,
}

impl Degree {
    /// Semitones above the root, 0..=11.
    pub const fn class(self) -> PitchClass {
        let natural = match self.value % 7 {
            1 => 0,
            2 => 2,
            3 => 4,
            4 => 5,
            5 => 7,
            6 => 9,
            _ => 10,
        };
        PitchClass::new(natural + self.alter as i32)
    }
}

/// A kind and up to [`Quality::MOST`] changed degrees.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Quality {
    kind: Kind,
    degrees: [Option<Degree>; Self::MOST],
}

impl Quality {
    /// The most degrees that may depart from the kind (7alt has four).
    pub const MOST: usize = 4;

    /// A kind as it is.
    pub const fn plain(kind: Kind) -> Self {
        Self { kind, degrees: [None; Self::MOST] }
    }

    /// With one more changed degree, in a fixed order; `None` when full.
    pub fn with(mut self, degree: Degree) -> Option<Self> {
        let free = self.degrees.iter_mut().find(|slot| slot.is_none())?;
        *free = Some(degree);
        // By value, empty places last, so that equal qualities compare equal.
        self.degrees.sort_unstable_by_key(|d| (d.is_none(), *d));
        Some(self)
    }

    /// The kind.
    pub const fn kind(self) -> Kind {
        self.kind
    }

    /// The changed degrees.
    pub fn degrees(&self) -> impl Iterator<Item = Degree> + '_ {
        self.degrees.iter().flatten().copied()
    }

    /// Semitones above the root, as a set.
    pub fn tones(self) -> PitchSet {
        let mut tones = self.kind.intervals();
        if matches!(self.degrees, [None, ..]) {
            return tones; // as most are
        }
        // What gives way first, so that it takes no added tone along.
        for degree in self.degrees() {
            match degree.change {
                Alteration::Add => {}
                Alteration::Subtract => tones = tones.without(degree.class()),
                Alteration::Alter => {
                    for natural in Self::naturals(degree.value) {
                        tones = tones.without(*natural);
                    }
                }
            }
        }
        for degree in self.degrees() {
            if degree.change != Alteration::Subtract {
                tones = tones.with(degree.class());
            }
        }
        tones
    }

    /// What an altered degree may replace.
    const fn naturals(value: u8) -> &'static [PitchClass] {
        const FIFTHS: &[PitchClass] = &[PitchClass::new(6), PitchClass::new(7), PitchClass::new(8)];
        const THIRDS: &[PitchClass] = &[PitchClass::new(3), PitchClass::new(4)];
        const SEVENTHS: &[PitchClass] = &[PitchClass::new(10), PitchClass::new(11)];
        const NINTHS: &[PitchClass] = &[PitchClass::new(2)];
        const FOURTHS: &[PitchClass] = &[PitchClass::new(5)];
        const SIXTHS: &[PitchClass] = &[PitchClass::new(9)];
        match value % 7 {
            5 => FIFTHS,
            3 => THIRDS,
            0 => SEVENTHS,
            2 => NINTHS,
            4 => FOURTHS,
            6 => SIXTHS,
            _ => &[],
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn degree(value: u8, alter: i8, change: Alteration) -> Degree {
        Degree { value, alter, change }
    }

    #[test]
    fn a_flat_fifth_replaces_the_fifth() {
        let quality =
            Quality::plain(Kind::Dominant).with(degree(5, -1, Alteration::Alter)).expect("room");
        assert_eq!(quality.tones(), [0, 4, 6, 10].map(PitchClass::new).into_iter().collect());
    }

    #[test]
    fn the_order_of_degrees_does_not_matter() {
        let [a, b] = [degree(9, -1, Alteration::Add), degree(5, 1, Alteration::Alter)];
        let plain = Quality::plain(Kind::Dominant);
        assert_eq!(plain.with(a).and_then(|q| q.with(b)), plain.with(b).and_then(|q| q.with(a)));
    }

    #[test]
    fn an_altered_degree_replaces_its_own_and_no_other() {
        let all = Quality::plain(Kind::DominantThirteenth); // 1 3 5 7 9 11 13
        let altered = |value, alter| {
            let quality = all.with(degree(value, alter, Alteration::Alter)).expect("room");
            quality.tones()
        };
        for (value, alter, gone, new) in [
            (3, -1, 4, 3),
            (5, 1, 7, 8),
            (7, 1, 10, 11),
            (9, -1, 2, 1),
            (11, 1, 5, 6),
            (13, -1, 9, 8),
        ] {
            let [gone, new] = [gone, new].map(PitchClass::new);
            assert_eq!(altered(value, alter), all.tones().without(gone).with(new), "{value}");
        }
        assert_eq!(degree(1, 0, Alteration::Add).class(), PitchClass::C);
        assert_eq!(degree(8, 1, Alteration::Add).class(), PitchClass::new(1));
    }
}
