//! Writes chord symbols, so that they read back as the same chord.

use alloc::borrow::ToOwned;
use alloc::format;
use alloc::string::String;
use alloc::vec::Vec;

use core::fmt;

use super::Symbol;
use crate::chord::{Alteration, Degree, Kind, Quality};

/// Kinds of functional harmony, written in parentheses behind the root.
pub(super) const FUNCTIONAL: &[(Kind, &str)] = &[
    (Kind::Neapolitan, "N6"),
    (Kind::Italian, "It6"),
    (Kind::French, "Fr6"),
    (Kind::German, "Ger6"),
    (Kind::Tristan, "Tristan"),
    (Kind::Pedal, "pedal"),
    (Kind::Other, "other"),
    (Kind::None, "none"),
];

/// The degrees of an altered dominant.
const ALTERED: [Degree; 4] = [
    Degree { value: 5, alter: -1, change: Alteration::Alter },
    Degree { value: 5, alter: 1, change: Alteration::Add },
    Degree { value: 9, alter: -1, change: Alteration::Add },
    Degree { value: 9, alter: 1, change: Alteration::Add },
];

/// A kind in ASCII and as printed.
const fn suffix(kind: Kind) -> (&'static str, &'static str) {
    match kind {
        Kind::Minor => ("m", "m"),
        Kind::Augmented => ("+", "+"),
        Kind::Diminished => ("dim", "°"),
        Kind::Dominant => ("7", "7"),
        Kind::MajorSeventh => ("maj7", "maj7"),
        Kind::MinorSeventh => ("m7", "m7"),
        Kind::DiminishedSeventh => ("dim7", "°7"),
        Kind::AugmentedSeventh => ("+7", "+7"),
        Kind::HalfDiminished => ("m7b5", "ø7"),
        Kind::MajorMinor => ("mMaj7", "mMaj7"),
        Kind::MajorSixth => ("6", "6"),
        Kind::MinorSixth => ("m6", "m6"),
        Kind::DominantNinth => ("9", "9"),
        Kind::MajorNinth => ("maj9", "maj9"),
        Kind::MinorNinth => ("m9", "m9"),
        Kind::DominantEleventh => ("11", "11"),
        Kind::MajorEleventh => ("maj11", "maj11"),
        Kind::MinorEleventh => ("m11", "m11"),
        Kind::DominantThirteenth => ("13", "13"),
        Kind::MajorThirteenth => ("maj13", "maj13"),
        Kind::MinorThirteenth => ("m13", "m13"),
        Kind::SuspendedSecond => ("sus2", "sus2"),
        Kind::SuspendedFourth => ("sus4", "sus4"),
        Kind::Power => ("5", "5"),
        _ => ("", ""),
    }
}

impl Symbol {
    /// With `b` and `#`, for terminals and files that must stay ASCII.
    pub fn ascii(self) -> String {
        let bass = self.bass.map_or(String::new(), |bass| format!("/{}", bass.ascii()));
        format!("{}{}{bass}", self.root.ascii(), quality(self.quality, false))
    }
}

/// With ♭ ♯ ° ø.
impl fmt::Display for Symbol {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}{}", self.root, quality(self.quality, true))?;
        match self.bass {
            Some(bass) => write!(f, "/{bass}"),
            None => Ok(()),
        }
    }
}

/// What stands behind the root: bare accidentals (`7b9`) where they read back
/// as they were meant, else every change in words (`7addb9`).
fn quality(quality: Quality, unicode: bool) -> String {
    let short = written(quality, unicode, true);
    let reads = Symbol::read(&format!("C{short}"));
    if reads.is_ok_and(|symbol| symbol.quality == quality) {
        short
    } else {
        written(quality, unicode, false)
    }
}

fn written(quality: Quality, unicode: bool, bare: bool) -> String {
    let mut degrees: Vec<_> = quality.degrees().collect();
    let kind = quality.kind();
    let mut text = String::new();
    if bare && kind == Kind::Dominant && degrees == ALTERED {
        return "7alt".to_owned();
    }
    if let Some((_, name)) = FUNCTIONAL.iter().find(|(functional, _)| *functional == kind) {
        text = format!("({name})");
    } else if matches!(kind, Kind::SuspendedFourth | Kind::SuspendedSecond) {
        text.push_str(if bare { take_number(&mut degrees) } else { "" });
        text.push_str(suffix(kind).0);
    } else {
        let (ascii, printed) = suffix(kind);
        text.push_str(if unicode { printed } else { ascii });
        let ninth = Degree { value: 9, alter: 0, change: Alteration::Add };
        if bare && matches!(kind, Kind::MajorSixth | Kind::MinorSixth) && degrees.contains(&ninth) {
            degrees.retain(|degree| *degree != ninth);
            text.push_str("/9");
        }
    }
    let changes: String = degrees.iter().map(|d| change(*d, unicode, bare)).collect();
    // An accidental right behind the root would belong to the root.
    if text.is_empty() && changes.starts_with(['b', '#', '♭', '♯']) {
        format!("({changes})")
    } else {
        text + &changes
    }
}

/// The number before `sus`, taken out of the added degrees.
fn take_number(degrees: &mut Vec<Degree>) -> &'static str {
    let add = |value, alter| Degree { value, alter, change: Alteration::Add };
    for (number, added) in [
        ("13", &[add(7, 0), add(9, 0), add(13, 0)][..]),
        ("maj9", &[add(7, 1), add(9, 0)]),
        ("9", &[add(7, 0), add(9, 0)]),
        ("maj7", &[add(7, 1)]),
        ("7", &[add(7, 0)]),
        ("6", &[add(6, 0)]),
    ] {
        if added.iter().all(|degree| degrees.contains(degree)) {
            degrees.retain(|degree| !added.contains(degree));
            return number;
        }
    }
    ""
}

fn change(degree: Degree, unicode: bool, bare: bool) -> String {
    let Degree { value, alter, change } = degree;
    let mark = match (alter < 0, unicode) {
        (true, true) => "♭",
        (true, false) => "b",
        (false, true) => "♯",
        (false, false) => "#",
    };
    let marks = mark.repeat(alter.unsigned_abs().into());
    let bare = bare && alter != 0 && matches!(value, 2 | 4 | 5 | 6 | 9 | 11 | 13);
    match change {
        Alteration::Alter | Alteration::Add if bare => format!("{marks}{value}"),
        Alteration::Add if value == 7 => match alter {
            0 => "add7".to_owned(),
            1 => "addmaj7".to_owned(),
            // Counted from the major seventh, as it is written (♭♭7 in C°7).
            _ if alter < 0 => format!("add{marks}{}7", if unicode { "♭" } else { "b" }),
            _ => format!("add{marks}7"),
        },
        Alteration::Add => format!("add{marks}{value}"),
        Alteration::Alter => format!("alter{marks}{value}"),
        Alteration::Subtract => format!("no{marks}{value}"),
    }
}
