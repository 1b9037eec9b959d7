//! A SoundFont without a file, for the fuzzers.

use sinistra_core::pitch::KeyNumber;

use super::soundfont::SoundFontFile;
use super::{Instrument, SoundFontPlayer};

/// Reads a file's bytes and, if they are taken, strikes a key for a tenth of a second.
pub fn sound_font(bytes: &[u8]) {
    let read = SoundFontFile::read("sound", bytes);
    if let Ok(mut player) = read.and_then(|font| SoundFontPlayer::new(&font, 16_000)) {
        let (mut left, mut right) = (vec![0.0; 1_600], vec![0.0; 1_600]);
        player.note_on(0, KeyNumber::MIDDLE_C, 100);
        player.render(&mut left, &mut right);
    }
}
