//! The kinds that a word for the triad and a number name together.

use super::build::{Build, degree};
use crate::chord::{Change, Kind};

/// What stands between the root and the number.
#[derive(Clone, Copy, PartialEq)]
pub enum Triad {
    Plain,
    Major,
    Triangle,
    Minor,
    Diminished,
    Half,
    Augmented,
}

/// The kind that triad and number name together; 69 is a sixth with a ninth.
pub fn kind_of(triad: Triad, major_seventh: bool, number: Option<u8>) -> Option<Build> {
    use Kind as K;
    let plain = |kind| Some(Build::plain(kind));
    if major_seventh {
        let upper: &[u8] = match number {
            None | Some(7) => &[],
            Some(9) => &[9],
            Some(11) => &[9, 11],
            Some(13) => &[9, 11, 13],
            _ => return None,
        };
        return match triad {
            Triad::Minor => Some(Build::plain(K::MajorMinor).add(upper)),
            Triad::Diminished => {
                let mut build = Build::plain(K::Diminished).add(upper);
                build.degrees.push(degree(7, 1, Change::Add));
                Some(build)
            }
            _ => {
                let mut build = kind_of(Triad::Major, false, number.or(Some(7)))?;
                build.alter(5, 1);
                Some(build)
            }
        };
    }
    match (triad, number) {
        (Triad::Plain | Triad::Major, None) => plain(K::Major),
        (Triad::Plain, Some(5)) => plain(K::Power),
        (Triad::Plain, Some(2)) => Some(Build::plain(K::Major).add(&[2])),
        (Triad::Plain, Some(7)) => plain(K::Dominant),
        (Triad::Plain, Some(9)) => plain(K::DominantNinth),
        (Triad::Plain, Some(11)) => plain(K::DominantEleventh),
        (Triad::Plain, Some(13)) => plain(K::DominantThirteenth),
        (Triad::Plain | Triad::Major | Triad::Triangle, Some(6)) => plain(K::MajorSixth),
        (Triad::Plain | Triad::Major | Triad::Triangle, Some(69)) => {
            Some(Build::plain(K::MajorSixth).add(&[9]))
        }
        (Triad::Triangle, None) | (Triad::Major | Triad::Triangle, Some(7)) => {
            plain(K::MajorSeventh)
        }
        (Triad::Major | Triad::Triangle, Some(9)) => plain(K::MajorNinth),
        (Triad::Major | Triad::Triangle, Some(11)) => plain(K::MajorEleventh),
        (Triad::Major | Triad::Triangle, Some(13)) => plain(K::MajorThirteenth),
        (Triad::Minor, None) => plain(K::Minor),
        (Triad::Minor, Some(2)) => Some(Build::plain(K::Minor).add(&[2])),
        (Triad::Minor, Some(6)) => plain(K::MinorSixth),
        (Triad::Minor, Some(69)) => Some(Build::plain(K::MinorSixth).add(&[9])),
        (Triad::Minor, Some(7)) => plain(K::MinorSeventh),
        (Triad::Minor, Some(9)) => plain(K::MinorNinth),
        (Triad::Minor, Some(11)) => plain(K::MinorEleventh),
        (Triad::Minor, Some(13)) => plain(K::MinorThirteenth),
        (Triad::Diminished, None) => plain(K::Diminished),
        (Triad::Diminished, Some(7)) => plain(K::DiminishedSeventh),
        (Triad::Diminished, Some(9)) => Some(Build::plain(K::DiminishedSeventh).add(&[9])),
        (Triad::Half, None | Some(7)) => plain(K::HalfDiminished),
        (Triad::Half, Some(9)) => Some(Build::plain(K::HalfDiminished).add(&[9])),
        (Triad::Half, Some(11)) => Some(Build::plain(K::HalfDiminished).add(&[9, 11])),
        (Triad::Augmented, None | Some(5)) => plain(K::Augmented),
        (Triad::Augmented, Some(7)) => plain(K::AugmentedSeventh),
        (Triad::Augmented, Some(9)) => Some(Build::plain(K::AugmentedSeventh).add(&[9])),
        (Triad::Augmented, Some(13)) => Some(Build::plain(K::AugmentedSeventh).add(&[9, 13])),
        _ => None,
    }
}
