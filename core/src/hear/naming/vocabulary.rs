//! The qualities that a set of pitch classes can be heard as.
//!
//! Source of names and intervals: the MusicXML 4.0 reference, `kind-value` and
//! `degree`. Which added and altered degrees pianists use, and which tones
//! they leave out: common practice, from memory of harmony handbooks.

#![allow(
    clippy::indexing_slicing,
    reason = "computed at compile time: an index beyond does not compile"
)]

use crate::chord::{Alteration, Degree, Kind, Quality};

/// How sure an exact match is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Tier {
    /// A kind of the standard, complete.
    Plain = 1,
    /// A kind with degrees added, altered or (eleventh) left out, complete.
    Extended = 2,
    /// A seventh or ninth without its fifth.
    NoFifth = 3,
}

/// A quality that can be heard.
#[derive(Clone, Copy, Debug)]
pub(super) struct HeardQuality {
    pub kind: Kind,
    pub degrees: &'static [Degree],
    /// Semitones above the root that must sound for an exact match; bit 0 is the root.
    pub tones: u16,
    pub tier: Tier,
}

impl HeardQuality {
    /// As a quality of a chord.
    pub fn quality(&self) -> Quality {
        self.degrees.iter().fold(Quality::plain(self.kind), |quality, &degree| {
            quality.with(degree).unwrap_or(quality)
        })
    }
}

const fn plain(kind: Kind) -> HeardQuality {
    HeardQuality { kind, degrees: &[], tones: kind.intervals().bits(), tier: Tier::Plain }
}

const fn set(tones: &[u8]) -> u16 {
    let (mut bits, mut i) = (0, 0);
    while i < tones.len() {
        bits |= 1 << tones[i];
        i += 1;
    }
    bits
}

const fn extended(kind: Kind, degrees: &'static [Degree], tones: &[u8]) -> HeardQuality {
    HeardQuality { kind, degrees, tones: set(tones), tier: Tier::Extended }
}

/// The kind is named whole: a missing fifth is understood.
const fn no_fifth(kind: Kind) -> HeardQuality {
    HeardQuality {
        kind,
        degrees: &[],
        tones: kind.intervals().bits() & !(1 << 7),
        tier: Tier::NoFifth,
    }
}

const fn add(value: u8, alter: i8) -> Degree {
    Degree { value, alter, change: Alteration::Add }
}

const fn alter(value: u8, alter: i8) -> Degree {
    Degree { value, alter, change: Alteration::Alter }
}

const fn without(value: u8) -> Degree {
    Degree { value, alter: 0, change: Alteration::Subtract }
}

/// Every quality, the likelier first where two fit equally well (by ear).
/// The functional sixths of the standard (Neapolitan, Italian, French,
/// German), `Tristan` and `pedal` sound like other kinds and are named so.
#[rustfmt::skip]
pub(super) const VOCABULARY: &[HeardQuality] = &[
    plain(Kind::Major),
    plain(Kind::Minor),
    plain(Kind::Dominant),
    plain(Kind::MinorSeventh),
    plain(Kind::MajorSeventh),
    plain(Kind::SuspendedFourth),
    plain(Kind::SuspendedSecond),
    plain(Kind::Diminished),
    plain(Kind::Augmented),
    plain(Kind::HalfDiminished),
    plain(Kind::DiminishedSeventh),
    plain(Kind::MajorSixth),
    plain(Kind::MinorSixth),
    plain(Kind::MajorMinor),
    plain(Kind::AugmentedSeventh),
    plain(Kind::DominantNinth),
    plain(Kind::MajorNinth),
    plain(Kind::MinorNinth),
    plain(Kind::DominantEleventh),
    plain(Kind::MajorEleventh),
    plain(Kind::MinorEleventh),
    plain(Kind::DominantThirteenth),
    plain(Kind::MajorThirteenth),
    plain(Kind::MinorThirteenth),
    plain(Kind::Power),
    extended(Kind::Major, &[add(9, 0)], &[0, 2, 4, 7]),
    extended(Kind::Minor, &[add(9, 0)], &[0, 2, 3, 7]),
    extended(Kind::SuspendedFourth, &[add(7, 0)], &[0, 5, 7, 10]),
    extended(Kind::SuspendedFourth, &[add(7, 0), add(9, 0)], &[0, 2, 5, 7, 10]),
    extended(Kind::MajorSixth, &[add(9, 0)], &[0, 2, 4, 7, 9]),
    extended(Kind::MinorSixth, &[add(9, 0)], &[0, 2, 3, 7, 9]),
    extended(Kind::DominantThirteenth, &[without(11)], &[0, 2, 4, 7, 9, 10]),
    extended(Kind::MajorThirteenth, &[without(11)], &[0, 2, 4, 7, 9, 11]),
    extended(Kind::Dominant, &[add(13, 0)], &[0, 4, 7, 9, 10]),
    extended(Kind::Dominant, &[add(9, -1)], &[0, 1, 4, 7, 10]),
    extended(Kind::Dominant, &[add(9, 1)], &[0, 3, 4, 7, 10]),
    extended(Kind::Dominant, &[add(11, 1)], &[0, 4, 6, 7, 10]),
    extended(Kind::Dominant, &[add(13, -1)], &[0, 4, 7, 8, 10]),
    extended(Kind::Dominant, &[alter(5, -1)], &[0, 4, 6, 10]),
    extended(Kind::DominantNinth, &[add(11, 1)], &[0, 2, 4, 6, 7, 10]),
    extended(Kind::MajorSeventh, &[add(11, 1)], &[0, 4, 6, 7, 11]),
    extended(Kind::MajorSeventh, &[alter(5, 1)], &[0, 4, 8, 11]),
    extended(Kind::MinorSeventh, &[add(11, 0)], &[0, 3, 5, 7, 10]),
    extended(Kind::MajorMinor, &[add(9, 0)], &[0, 2, 3, 7, 11]),
    extended(Kind::Major, &[add(11, 0)], &[0, 4, 5, 7]),
    extended(Kind::Minor, &[add(11, 0)], &[0, 3, 5, 7]),
    no_fifth(Kind::Dominant),
    no_fifth(Kind::MinorSeventh),
    no_fifth(Kind::MajorSeventh),
    no_fifth(Kind::DominantNinth),
    no_fifth(Kind::MinorNinth),
    no_fifth(Kind::MajorNinth),
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_tones_are_those_of_the_quality() {
        for entry in VOCABULARY {
            let fifth = if entry.tier == Tier::NoFifth { 1 << 7 } else { 0 };
            assert_eq!(entry.tones | fifth, entry.quality().tones().bits(), "{entry:?}");
        }
    }

    #[test]
    fn every_kind_that_sounds_like_no_other_is_there() {
        for kind in Kind::ALL {
            let same = |entry: &&HeardQuality| entry.tones == kind.intervals().bits();
            let silent = matches!(kind, Kind::Pedal | Kind::Other | Kind::None);
            assert!(silent || VOCABULARY.iter().any(|e| same(&e)), "{kind:?}");
        }
    }
}
