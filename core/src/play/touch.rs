//! A performer's touch: what a hand that is not a machine adds to a stroke, from
//! exact (nothing) to loose.
//!
//! The files in human time at hand (POP909, 120 songs) hold their freedom in the
//! tempo: nine in ten strokes of a left hand are struck at one instant there. So
//! the sizes are from memory: even playing spreads by some 10 ms.

use super::phrase::PHRASE;
use super::{Stroke, Voice};
use crate::chance::Chance;
use crate::maths;
use crate::settings::Settings;
use crate::time::{Place, Ticks};

/// The latest that a note is struck after its place, in milliseconds.
const LATEST_MS: f64 = 24.0;

/// How much louder or softer a note is at the most, as a part of its velocity.
const UNEVEN: f32 = 0.08;

/// How much louder the middle of a phrase is than its ends.
const ARCH: f32 = 0.1;

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
        note.velocity = maths::velocity(f32::from(note.velocity) * louder);
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pitch::KeyNumber;
    use crate::play::{Note, Role};
    use crate::time::Metre;

    const PLACE: Place = Place { bar: Ticks::ZERO, metre: Metre::COMMON, number: 5 };

    fn stroke(at: i64) -> Stroke {
        let note = |number: i32, voice| Note {
            key: KeyNumber::clamped(number),
            velocity: 80,
            role: Role::Root,
            voice,
            from: Ticks(at),
            until: Ticks(at + 240),
            why: crate::play::Why::default(),
        };
        [note(36, Voice::Bass), note(52, Voice::Tenor)].into_iter().collect()
    }

    fn loosened(at: i64, starts: bool, loose: f32, seed: u64) -> Stroke {
        let mut played = stroke(at);
        let settings = Settings { loose, seed, ..Settings::default() };
        loosen(&mut played, Ticks(at), PLACE, (starts, 120.0), &settings);
        played
    }

    #[test]
    fn exact_is_as_written() {
        assert_eq!(loosened(480, false, 0.0, 7), stroke(480));
    }

    #[test]
    fn a_root_is_never_late_on_a_change_and_nothing_is_early_or_far_off() {
        let most = Ticks::of_ms(LATEST_MS, 120.0);
        for (at, seed) in (0..16).flat_map(|n| (1..40).map(move |seed| (n * 240, seed))) {
            for starts in [true, false] {
                let played = loosened(at, starts, 1.0, seed);
                for note in &played {
                    let late = note.from - Ticks(at);
                    assert!((Ticks::ZERO..=most).contains(&late), "{late:?}");
                    assert!(note.until > note.from && (60..=100).contains(&note.velocity));
                }
                assert!(!starts || played[0].from == Ticks(at), "{played:?}");
            }
        }
    }

    #[test]
    fn the_seed_makes_the_spread_and_the_same_seed_the_same() {
        assert_eq!(loosened(480, false, 1.0, 3), loosened(480, false, 1.0, 3));
        let others = (1..20)
            .filter(|&seed| loosened(480, false, 1.0, seed) != loosened(480, false, 1.0, 99));
        assert!(others.count() > 15);
    }
}
