//! How the metronome sounds over MIDI.

use sinistra_core::pitch::KeyNumber;

use crate::bridge::midi::Short;
use crate::bridge::time::Click;

/// High and low wood block (General MIDI System Level 1, percussion key map).
const FIRST: i32 = 76;
/// See [`FIRST`].
const OTHER: i32 = 77;
/// How long a click is held, seconds.
pub const CLICK_S: f64 = 0.03;

/// The notes of a click on `channel` (0..=15), `loudness` percent of the usual: on,
/// then off.
pub fn notes(click: Click, channel: u8, loudness: u8) -> (Short, Short) {
    let (key, usual) = if click.first { (FIRST, 100) } else { (OTHER, 70) };
    // A note on of velocity 0 would be an end (MIDI 1.0).
    let velocity = (usual * u32::from(loudness) / 100).clamp(1, 127) as u8;
    let key = KeyNumber::clamped(key);
    (Short::on(channel, key, velocity), Short::off(channel, key, 64))
}
