//! One spelling everywhere: the chord's, else the key's.

use sinistra_core::chord::Symbol;
use sinistra_core::key::WrittenKey;
use sinistra_core::pitch::{KeyNumber, PitchClass, Spelled};

/// How a class is spelled under a chord: its tones as the chord is written (G♯
/// in E7), its slash bass as written there, all else as the key is.
#[must_use]
pub fn spelled(class: PitchClass, under: Option<Symbol>, key: WrittenKey) -> Spelled {
    let by_chord = under.and_then(|symbol| {
        let bass = symbol.bass.filter(|bass| bass.class() == class);
        bass.or_else(|| symbol.tone(class))
    });
    by_chord.unwrap_or_else(|| key.spell(class))
}

/// The octave of a key in scientific pitch notation as it is spelled: B♯2 sounds
/// as C3, C♭3 as B2.
#[must_use]
pub fn octave(key: KeyNumber, spelled: Spelled) -> i32 {
    (i32::from(key.number()) - i32::from(spelled.alter)).div_euclid(12) - 1
}

#[cfg(test)]
mod tests {
    use super::*;
    use sinistra_core::pitch::Letter;

    #[test]
    fn the_octave_goes_with_the_letter() {
        let key = KeyNumber::clamped;
        assert_eq!(octave(key(36), Spelled::new(Letter::B, 1)), 1); // B♯1 is C2
        assert_eq!(octave(key(35), Spelled::new(Letter::C, -1)), 2); // C♭2 is B1
        assert_eq!(octave(key(60), Spelled::new(Letter::C, 0)), 4);
    }
}
