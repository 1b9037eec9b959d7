//! Names of chords and keys of the keyboard for a screen.

use sinistra_core::chord::{Chord, Symbol};
use sinistra_core::key::Key;
use sinistra_core::pitch::KeyNumber;

/// `F♯3`, spelled in `key`.
pub fn key_name(number: KeyNumber, key: Key) -> String {
    format!("{}{}", key.spell(number.class()), number.octave())
}

/// `Am7/G`, spelled in `key`.
pub fn chord_name(chord: Chord, key: Key) -> String {
    Symbol::of(chord, key).to_string()
}
