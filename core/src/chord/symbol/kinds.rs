//! The kinds that a word for the triad and a number name together.

use super::build::{Build, degree};
use crate::chord::{Alteration, Kind};

/// What stands between the root and the number.
#[derive(Clone, Copy, PartialEq)]
pub enum TriadSign {
    Plain,
    Major,
    Triangle,
    Minor,
    Diminished,
    Half,
    Augmented,
}

/// The kind that triad and number name together; 69 is a sixth with a ninth.
pub fn kind_of(triad: TriadSign, major_seventh: bool, number: Option<u8>) -> Option<Build> {
    use Kind as K;
    use TriadSign as T;
    if major_seventh {
        return with_major_seventh(triad, number);
    }
    let (kind, added): (Kind, &[u8]) = match (triad, number) {
        (T::Plain | T::Major, None) => (K::Major, &[]),
        (T::Plain, Some(5)) => (K::Power, &[]),
        (T::Plain, Some(2)) => (K::Major, &[2]),
        (T::Plain, Some(7)) => (K::Dominant, &[]),
        (T::Plain, Some(9)) => (K::DominantNinth, &[]),
        (T::Plain, Some(11)) => (K::DominantEleventh, &[]),
        (T::Plain, Some(13)) => (K::DominantThirteenth, &[]),
        (T::Plain | T::Major | T::Triangle, Some(6)) => (K::MajorSixth, &[]),
        (T::Plain | T::Major | T::Triangle, Some(69)) => (K::MajorSixth, &[9]),
        (T::Triangle, None) | (T::Major | T::Triangle, Some(7)) => (K::MajorSeventh, &[]),
        (T::Major | T::Triangle, Some(9)) => (K::MajorNinth, &[]),
        (T::Major | T::Triangle, Some(11)) => (K::MajorEleventh, &[]),
        (T::Major | T::Triangle, Some(13)) => (K::MajorThirteenth, &[]),
        (T::Minor, None) => (K::Minor, &[]),
        (T::Minor, Some(2)) => (K::Minor, &[2]),
        (T::Minor, Some(6)) => (K::MinorSixth, &[]),
        (T::Minor, Some(69)) => (K::MinorSixth, &[9]),
        (T::Minor, Some(7)) => (K::MinorSeventh, &[]),
        (T::Minor, Some(9)) => (K::MinorNinth, &[]),
        (T::Minor, Some(11)) => (K::MinorEleventh, &[]),
        (T::Minor, Some(13)) => (K::MinorThirteenth, &[]),
        (T::Diminished, None) => (K::Diminished, &[]),
        (T::Diminished, Some(7)) => (K::DiminishedSeventh, &[]),
        (T::Diminished, Some(9)) => (K::DiminishedSeventh, &[9]),
        (T::Half, None | Some(7)) => (K::HalfDiminished, &[]),
        (T::Half, Some(9)) => (K::HalfDiminished, &[9]),
        (T::Half, Some(11)) => (K::HalfDiminished, &[9, 11]),
        (T::Augmented, None | Some(5)) => (K::Augmented, &[]),
        (T::Augmented, Some(7)) => (K::AugmentedSeventh, &[]),
        (T::Augmented, Some(9)) => (K::AugmentedSeventh, &[9]),
        (T::Augmented, Some(13)) => (K::AugmentedSeventh, &[9, 13]),
        _ => return None,
    };
    Some(Build::plain(kind).add(added))
}

fn with_major_seventh(triad: TriadSign, number: Option<u8>) -> Option<Build> {
    let upper: &[u8] = match number {
        None | Some(7) => &[],
        Some(9) => &[9],
        Some(11) => &[9, 11],
        Some(13) => &[9, 11, 13],
        _ => return None,
    };
    match triad {
        TriadSign::Minor => Some(Build::plain(Kind::MajorMinor).add(upper)),
        TriadSign::Diminished => {
            let mut build = Build::plain(Kind::Diminished).add(upper);
            build.degrees.push(degree(7, 1, Alteration::Add));
            Some(build)
        }
        _ => {
            let mut build = kind_of(TriadSign::Major, false, number.or(Some(7)))?;
            build.alter(5, 1);
            Some(build)
        }
    }
}
