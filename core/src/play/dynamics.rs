//! How hard the left hand strikes: as the right hand does, and by the accent.

use crate::maths;
use crate::settings::Settings;

/// Loudness of a place beside the bar line's, by its level. By ear.
const BY_LEVEL: [f32; 5] = [1.0, 0.96, 0.93, 0.87, 0.82];

/// The velocity of a note, 1..=127, for a right hand at `loudness` 1..=127.
pub fn velocity(loudness: u8, level: u8, starts: bool, settings: &Settings) -> u8 {
    let accent = BY_LEVEL.get(usize::from(level)).or(BY_LEVEL.last()).copied().unwrap_or(1.0);
    // A new chord is told plainly wherever it falls.
    let accent = if starts { accent.max(0.97) } else { accent };
    let wished = f32::from(loudness) * settings.loudness * accent;
    maths::velocity(wished)
}
