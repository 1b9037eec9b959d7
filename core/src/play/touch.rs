//! A performer's touch: what a hand that is not a machine adds to a stroke, from
//! exact (nothing) to loose.
//!
//! The files in human time at hand (POP909, 120 songs) hold their freedom in the
//! tempo: nine in ten strokes of a left hand are struck at one instant there. So
//! the sizes are from memory: even playing spreads by some 10 ms.

use super::free::Chance;
use super::{Stroke, Voice};
use crate::settings::Settings;
use crate::time::{Place, Ticks};

/// The latest that a note is struck after its place, in milliseconds.
const LATEST_MS: f64 = 24.0;

/// How much louder or softer a note is at the most, as a part of its velocity.
const UNEVEN: f32 = 0.08;

/// How much louder the middle of a phrase is than its ends.
const ARCH: f32 = 0.1;

/// Bars in a phrase. Common practice.
const PHRASE: i64 = 4;

/// Spreads a stroke that is counted at `grid` in time and loudness, the same for
/// the same seed. What tells a new chord (`starts`) is never late. Real-time safe.
pub fn loosen(
    stroke: &mut Stroke,
    grid: Ticks,
    place: Place,
    (starts, tempo): (bool, f64),
    settings: &Settings,
) {
    let loose = settings.loose.clamp(0.0, 1.0);
    if loose <= 0.0 {
        return;
    }
    let into = (grid - place.bar).0 as f32 / place.metre.bar().0.max(1) as f32;
    let into = (place.number.rem_euclid(PHRASE) as f32 + into) / PHRASE as f32;
    let arch = 4.0 * into * (1.0 - into) - 0.5;
    for (index, note) in stroke.iter_mut().enumerate() {
        let mut chance = Chance::new(settings.seed ^ grid.0.unsigned_abs());
        chance.stir(u64::from(note.key.number()));
        let uneven = 2.0 * chance.part() - 1.0;
        let louder = 1.0 + loose * (ARCH * arch + UNEVEN * uneven);
        let velocity = libm::roundf(f32::from(note.velocity) * louder);
        note.velocity = velocity.clamp(1.0, 127.0) as u8;
        let tells = starts && index == 0 && note.voice == Voice::Bass;
        if !tells {
            // Mostly a little, seldom much.
            let late = f64::from(loose * chance.part() * chance.part());
            let late = Ticks::of_ms(LATEST_MS * late, tempo);
            note.from += late;
            note.until = note.until.max(note.from + Ticks(1));
        }
    }
}
