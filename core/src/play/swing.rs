//! Swing: where the "and" of a beat sounds, and back to where it is counted.

use super::accent;
use crate::maths;
use crate::time::{Metre, Place, Ticks};

/// Straight and hardest swing, as the part of the beat before the "and".
pub const SWINGS: (f32, f32) = (0.5, 0.75);

/// Where a moment `offset` after the bar line sounds with the "and" at `swing`
/// of its beat; what lies between moves in proportion. Halves of quarter notes
/// swing; compound metres and those that count eighths do not.
#[must_use]
pub fn swung(offset: Ticks, metre: Metre, swing: f32) -> Ticks {
    moved(offset, metre, |into| forth(into, swing))
}

/// The other way round: where what sounds `offset` after the bar line is
/// counted.
#[must_use]
pub fn straight(offset: Ticks, metre: Metre, swing: f32) -> Ticks {
    let swing = f64::from(swing.clamp(SWINGS.0, SWINGS.1));
    moved(offset, metre, |into| {
        if into < swing {
            into / (2.0 * swing)
        } else {
            0.5 + (into - swing) / (2.0 * (1.0 - swing))
        }
    })
}

/// The same of a moment and its place.
#[must_use]
pub fn counted(at: Ticks, place: Place, swing: f32) -> Ticks {
    place.bar + straight(at - place.bar, place.metre, swing)
}

/// The same within a beat, 0..1.
pub(super) fn forth(into: f64, swing: f32) -> f64 {
    let swing = f64::from(swing.clamp(SWINGS.0, SWINGS.1));
    if into < 0.5 { into * 2.0 * swing } else { swing + (into - 0.5) * 2.0 * (1.0 - swing) }
}

fn moved(offset: Ticks, metre: Metre, within: impl Fn(f64) -> f64) -> Ticks {
    let beats = accent::beats(metre);
    let beat = beats.iter().rev().find(|beat| beat.start <= offset);
    let Some(beat) = beat.filter(|_| metre.unit() <= 4) else { return offset };
    let length = beat.length.0 as f64;
    let into = (offset - beat.start).0 as f64 / length;
    beat.start + Ticks(maths::whole(libm::round(within(into) * length)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_and_falls_late_and_is_counted_where_it_is_written() {
        for (at, swing, sounds) in [
            (480, 2.0 / 3.0, 640),
            (960, 0.7, 960),
            (240, 0.75, 360),
            (720, 0.75, 840),
            (480, 0.5, 480),
        ] {
            assert_eq!(swung(Ticks(at), Metre::COMMON, swing), Ticks(sounds), "{at} {swing}");
            assert_eq!(straight(Ticks(sounds), Metre::COMMON, swing), Ticks(at), "{at} {swing}");
        }
        let six = Metre::new(6, 8).expect("a metre");
        assert_eq!(swung(Ticks(480), six, 0.7), Ticks(480), "compound");
        let second = Place::first(Metre::COMMON).of(Ticks(3840));
        assert_eq!(counted(Ticks(3840 + 640), second, 2.0 / 3.0), Ticks(3840 + 480));
    }

    #[test]
    fn a_slot_swings_as_a_moment_does() {
        let pattern = super::super::Pattern::default_boxed();
        for (beats, unit) in [(4, 4), (3, 4), (2, 2), (5, 4), (6, 8), (7, 8), (12, 8)] {
            let metre = Metre::new(beats, unit).expect("a metre");
            let place = crate::time::Place::first(metre);
            for slot in pattern.bar(place, 1).iter().filter(|slot| slot.swings.is_some()) {
                assert_eq!(slot.swung(0.66), swung(slot.offset, metre, 0.66), "{metre:?} {slot:?}");
            }
        }
    }
}
