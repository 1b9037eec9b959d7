//! Which accidentals are printed: what differs from the key and the bar so far.

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
        Self { signature, bar: HashMap::new() }
    }

    /// A bar line: the signature alone holds again.
    pub fn new_bar(&mut self) {
        self.bar.clear();
    }

    /// The accidental to print before this head.
    pub fn before(&mut self, head: Head) -> Option<Accidental> {
        let Spelled { letter, alter } = head.spelled;
        let place = (letter, head.octave);
        let now = self.bar.get(&place).copied().unwrap_or(self.signature[letter as usize]);
        if now == alter {
            return None;
        }
        self.bar.insert(place, alter);
        Some(Accidental(alter))
    }
}

/// A printed accidental, by the semitones that it alters the letter by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Accidental(pub i8);

impl Accidental {
    /// MusicXML 4.0 `accidental-value`.
    pub const fn name(self) -> &'static str {
        match self.0 {
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
        assert_eq!(staff.before(head(46, Letter::B, -1)).map(Accidental::name), Some("flat"));
        staff.new_bar();
        assert_eq!(staff.before(head(46, Letter::B, -1)), None);
    }

    #[test]
    fn c_flat_stands_in_the_octave_above() {
        assert_eq!(head(59, Letter::C, -1).octave, 4); // sounds as B3
        assert_eq!(head(60, Letter::B, 1).octave, 3); // sounds as C4
    }
}
