//! Which accidentals are printed: what differs from the key and the bar so far,
//! and reminders of what no longer holds.

use std::collections::HashMap;

use crate::spelling::octave;

use sinistra_core::key::WrittenKey;
use sinistra_core::pitch::{KeyNumber, Letter, Spelled};

/// A key of the keyboard as it stands on the staff.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) struct Head {
    pub spelled: Spelled,
    /// Octave of the letter in scientific pitch notation: B♯3 sounds as C4.
    pub octave: i32,
}

impl Head {
    /// `key` as `spelled` (of the same class).
    pub fn of(key: KeyNumber, spelled: Spelled) -> Self {
        Self { spelled, octave: octave(key, spelled) }
    }
}

/// The alterations in force on one staff.
pub(super) struct Accidentals {
    signature: [i8; 7],
    bar: HashMap<(Letter, i32), i8>,
    /// What departed from the signature in the bar before, and is not yet taken
    /// back.
    departed: Vec<Letter>,
}

impl Accidentals {
    /// Those of the key signature.
    pub fn of(key: WrittenKey) -> Self {
        // Sharps come in the order F C G D A E B, flats the other way round.
        const SHARPS: [usize; 7] = [3, 0, 4, 1, 5, 2, 6];
        let fifths = key.fifths();
        let mut signature = [0; 7];
        for n in 0..usize::from(fifths.unsigned_abs()) {
            let letter = if fifths > 0 { SHARPS[n] } else { SHARPS[6 - n] };
            signature[letter] = fifths.signum();
        }
        Self { signature, bar: HashMap::new(), departed: Vec::new() }
    }

    /// A bar line: the signature alone holds again.
    pub fn new_bar(&mut self) {
        let signature = self.signature;
        let departs = |((letter, _), alter): ((Letter, i32), i8)| {
            (alter != signature[letter as usize]).then_some(letter)
        };
        self.departed = self.bar.drain().filter_map(departs).collect();
    }

    /// The accidental to print before this head. A letter that was altered
    /// otherwise in the bar before, or in another octave of this one, gets a
    /// reminder the first time (E. Gould, "Behind Bars", 2011, from memory).
    pub fn before(&mut self, head: Head) -> Option<Accidental> {
        let Spelled { letter, alter } = head.spelled;
        let place = (letter, head.octave);
        let told = self.bar.get(&place).copied();
        let now = told.unwrap_or(self.signature[letter as usize]);
        let elsewhere = |((other, octave), a): (&(Letter, i32), &i8)| {
            *other == letter && *octave != head.octave && *a != alter
        };
        let reminds =
            told.is_none() && (self.departed.contains(&letter) || self.bar.iter().any(elsewhere));
        if now == alter && !reminds {
            return None;
        }
        self.departed.retain(|other| *other != letter);
        self.bar.insert(place, alter);
        Some(Accidental { alter, courtesy: now == alter })
    }
}

/// A printed accidental.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Accidental {
    /// Semitones that it alters the letter by.
    pub alter: i8,
    /// It only reminds, and stands in parentheses.
    pub courtesy: bool,
}

impl Accidental {
    /// MusicXML 4.0 `accidental-value`.
    pub const fn name(self) -> &'static str {
        match self.alter {
            -2 => "flat-flat",
            -1 => "flat",
            1 => "sharp",
            2 => "double-sharp",
            _ => "natural",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use sinistra_core::key::{Key, Mode};
    use sinistra_core::pitch::PitchClass;

    fn head(number: u8, letter: Letter, alter: i8) -> Head {
        Head::of(KeyNumber::clamped(number.into()), Spelled::new(letter, alter))
    }

    #[test]
    fn an_accidental_holds_until_the_bar_line_in_its_octave() {
        let key = Key { tonic: PitchClass::new(10), mode: Mode::Major }; // B♭ major
        let mut staff = Accidentals::of(key.into());
        assert_eq!(staff.before(head(46, Letter::B, -1)), None);
        assert_eq!(staff.before(head(47, Letter::B, 0)).map(Accidental::name), Some("natural"));
        assert_eq!(staff.before(head(47, Letter::B, 0)), None);
        assert_eq!(staff.before(head(59, Letter::B, 0)).map(Accidental::name), Some("natural")); // another octave
        let flat = staff.before(head(46, Letter::B, -1)).expect("an accidental");
        assert_eq!((flat.name(), flat.courtesy), ("flat", false));
        staff.new_bar();
        let reminder = staff.before(head(46, Letter::B, -1)).expect("a reminder");
        assert_eq!((reminder.name(), reminder.courtesy), ("flat", true), "of the B\u{266e}3");
        assert_eq!(staff.before(head(46, Letter::B, -1)), None);
        staff.new_bar();
        assert_eq!(staff.before(head(46, Letter::B, -1)), None);
    }

    #[test]
    fn another_octave_is_reminded_within_the_bar() {
        let mut staff = Accidentals::of(Key::C_MAJOR.into());
        assert!(staff.before(head(42, Letter::F, 1)).is_some_and(|sign| !sign.courtesy));
        assert!(staff.before(head(53, Letter::F, 0)).is_some_and(|sign| sign.courtesy));
        assert_eq!(staff.before(head(53, Letter::F, 0)), None);
    }

    #[test]
    fn c_flat_stands_in_the_octave_above() {
        assert_eq!(head(59, Letter::C, -1).octave, 4); // sounds as B3
        assert_eq!(head(60, Letter::B, 1).octave, 3); // sounds as C4
    }
}
