//! Keys in words: `F#m`, `B♭`, `A minor`.

use sinistra_core::key::{Key, Mode, WrittenKey};
use sinistra_core::pitch::Spelled;

/// `C`, `Bb`, `F#m`, `a minor`, `E♭ major`; `None` if it is no key.
pub fn read_key(text: &str) -> Option<Key> {
    read_written_key(text).map(WrittenKey::key)
}

/// The same with the signature that the name asks for: six sharps for F♯, six
/// flats for G♭. A name that would need more than seven is read as it is usual.
pub fn read_written_key(text: &str) -> Option<WrittenKey> {
    let (tonic, mode) = Spelled::read(text.trim())?;
    let mode = match mode.trim() {
        "m" | "-" | "min" | "minor" => Mode::Minor,
        "" | "maj" | "major" => Mode::Major,
        _ => return None,
    };
    Some(Key { tonic: tonic.class(), mode }.written_like([tonic]))
}

/// In ASCII, as [`read_key`] takes it: `F#m`, `Bb`.
pub fn key_name(key: impl Into<WrittenKey>) -> String {
    let key = key.into();
    let mode = if key.key().mode == Mode::Minor { "m" } else { "" };
    format!("{}{mode}", key.tonic().ascii())
}

/// As a musician writes it: `F♯m`, `B♭`.
pub fn key_words(key: impl Into<WrittenKey>) -> String {
    let key = key.into();
    let mode = if key.key().mode == Mode::Minor { "m" } else { "" };
    format!("{}{mode}", key.tonic())
}
