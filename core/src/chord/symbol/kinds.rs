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
            TriadSign::Minor => Some(Build::plain(K::MajorMinor).add(upper)),
            TriadSign::Diminished => {
                let mut build = Build::plain(K::Diminished).add(upper);
                build.degrees.push(degree(7, 1, Alteration::Add));
                Some(build)
            }
            _ => {
                let mut build = kind_of(TriadSign::Major, false, number.or(Some(7)))?;
                build.alter(5, 1);
                Some(build)
            }
        };
    }
    match (triad, number) {
        (TriadSign::Plain | TriadSign::Major, None) => plain(K::Major),
        (TriadSign::Plain, Some(5)) => plain(K::Power),
        (TriadSign::Plain, Some(2)) => Some(Build::plain(K::Major).add(&[2])),
        (TriadSign::Plain, Some(7)) => plain(K::Dominant),
        (TriadSign::Plain, Some(9)) => plain(K::DominantNinth),
        (TriadSign::Plain, Some(11)) => plain(K::DominantEleventh),
        (TriadSign::Plain, Some(13)) => plain(K::DominantThirteenth),
        (TriadSign::Plain | TriadSign::Major | TriadSign::Triangle, Some(6)) => {
            plain(K::MajorSixth)
        }
        (TriadSign::Plain | TriadSign::Major | TriadSign::Triangle, Some(69)) => {
            Some(Build::plain(K::MajorSixth).add(&[9]))
        }
        (TriadSign::Triangle, None) | (TriadSign::Major | TriadSign::Triangle, Some(7)) => {
            plain(K::MajorSeventh)
        }
        (TriadSign::Major | TriadSign::Triangle, Some(9)) => plain(K::MajorNinth),
        (TriadSign::Major | TriadSign::Triangle, Some(11)) => plain(K::MajorEleventh),
        (TriadSign::Major | TriadSign::Triangle, Some(13)) => plain(K::MajorThirteenth),
        (TriadSign::Minor, None) => plain(K::Minor),
        (TriadSign::Minor, Some(2)) => Some(Build::plain(K::Minor).add(&[2])),
        (TriadSign::Minor, Some(6)) => plain(K::MinorSixth),
        (TriadSign::Minor, Some(69)) => Some(Build::plain(K::MinorSixth).add(&[9])),
        (TriadSign::Minor, Some(7)) => plain(K::MinorSeventh),
        (TriadSign::Minor, Some(9)) => plain(K::MinorNinth),
        (TriadSign::Minor, Some(11)) => plain(K::MinorEleventh),
        (TriadSign::Minor, Some(13)) => plain(K::MinorThirteenth),
        (TriadSign::Diminished, None) => plain(K::Diminished),
        (TriadSign::Diminished, Some(7)) => plain(K::DiminishedSeventh),
        (TriadSign::Diminished, Some(9)) => Some(Build::plain(K::DiminishedSeventh).add(&[9])),
        (TriadSign::Half, None | Some(7)) => plain(K::HalfDiminished),
        (TriadSign::Half, Some(9)) => Some(Build::plain(K::HalfDiminished).add(&[9])),
        (TriadSign::Half, Some(11)) => Some(Build::plain(K::HalfDiminished).add(&[9, 11])),
        (TriadSign::Augmented, None | Some(5)) => plain(K::Augmented),
        (TriadSign::Augmented, Some(7)) => plain(K::AugmentedSeventh),
        (TriadSign::Augmented, Some(9)) => Some(Build::plain(K::AugmentedSeventh).add(&[9])),
        (TriadSign::Augmented, Some(13)) => Some(Build::plain(K::AugmentedSeventh).add(&[9, 13])),
        _ => None,
    }
}
