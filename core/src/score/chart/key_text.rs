//! Keys in words: `F#m`, `B♭`, `A minor`.

use crate::key::{Key, Mode};
use crate::pitch::Spelled;

/// `C`, `Bb`, `F#m`, `a minor`, `E♭ major`; `None` if it is no key.
pub fn read_key(text: &str) -> Option<Key> {
    let (tonic, mode) = Spelled::read(text.trim())?;
    let mode = match mode.trim() {
        "m" | "-" | "min" | "minor" => Mode::Minor,
        "" | "maj" | "major" => Mode::Major,
        _ => return None,
    };
    Some(Key { tonic: tonic.class(), mode })
}

/// In ASCII, as [`read_key`] takes it: `F#m`, `Bb`.
pub fn key_name(key: Key) -> String {
    let mode = if key.mode == Mode::Minor { "m" } else { "" };
    format!("{}{mode}", key.spell(key.tonic).ascii())
}
