//! When keys are struck together: a chord, or one key alone.

use sinistra_core::beat::PlayerStroke;
use sinistra_core::pitch::KeyNumber;

/// Keys struck within this many seconds are one chord (a chord is struck
/// over 5 to 50 ms).
const TOGETHER_S: f64 = 0.06;
/// Two keys are a chord if no third comes within this.
const TWO_S: f64 = 0.035;

/// Gathers struck keys to chords.
#[derive(Clone, Copy, Debug, Default)]
pub struct Onsets {
    stroke: Option<PlayerStroke>,
    told: bool,
}

impl Onsets {
    /// A key was struck at `at` seconds. Gives a chord, at the time of its
    /// first key, as soon as a third is there.
    pub fn key(&mut self, at: f64, key: KeyNumber) -> Option<PlayerStroke> {
        let Some(stroke) = self.stroke.filter(|stroke| at - stroke.at <= TOGETHER_S) else {
            *self = Self { stroke: Some(PlayerStroke::of_key(at, key)), told: false };
            return None;
        };
        self.stroke = Some(stroke.and(key));
        self.tell(|stroke| stroke.keys >= 3)
    }

    /// Asks again at `now`: two keys become a chord when no third comes, and
    /// one is alone when no second does.
    pub fn wait(&mut self, now: f64) -> Option<PlayerStroke> {
        self.tell(|stroke| {
            let since = now - stroke.at;
            stroke.keys == 2 && since >= TWO_S || stroke.keys == 1 && since > TOGETHER_S
        })
    }

    fn tell(&mut self, enough: impl Fn(&PlayerStroke) -> bool) -> Option<PlayerStroke> {
        let stroke = self.stroke.filter(|_| !self.told).filter(enough)?;
        self.told = true;
        Some(stroke)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use sinistra_core::pitch::PitchSet;

    /// Of the keys from middle C up, a semitone apart.
    fn chord(at: f64, keys: u8) -> Option<PlayerStroke> {
        Some(PlayerStroke { at, keys, classes: PitchSet::from_bits((1 << keys) - 1) })
    }

    fn key(above: u8) -> KeyNumber {
        KeyNumber::clamped(60 + i32::from(above))
    }

    #[test]
    fn three_keys_are_a_chord_at_the_time_of_the_first() {
        let mut onsets = Onsets::default();
        assert_eq!(onsets.key(1.0, key(0)), None);
        assert_eq!(onsets.key(1.01, key(1)), None);
        assert_eq!(onsets.key(1.02, key(2)), chord(1.0, 3));
        assert_eq!(onsets.key(1.03, key(3)), None); // the fourth belongs to it
        assert_eq!(onsets.wait(2.0), None);
    }

    #[test]
    fn two_keys_are_a_chord_a_moment_later_and_of_a_melody_each_is_alone() {
        let mut onsets = Onsets::default();
        onsets.key(1.0, key(0));
        onsets.key(1.01, key(1));
        assert_eq!(onsets.wait(1.02), None);
        assert_eq!(onsets.wait(1.04), chord(1.0, 2));
        for at in [2.0, 2.1, 2.2, 2.3] {
            assert_eq!(onsets.key(at, key(0)), None);
            assert_eq!(onsets.wait(at + 0.05), None);
            assert_eq!(onsets.wait(at + 0.09), chord(at, 1));
        }
    }
}
