//! The key of the song, from what has sounded so far.
//!
//! Profiles: how much of the time each degree sounds, learned from open data
//! (`core/models/key.model`; of the published ones Temperley's comes nearest).
//! The sound so far, older sound counting half every [`HALF_LIFE_BEATS`], is
//! compared with all 24 rotated profiles; the key changes only for one that
//! fits clearly better, so one borrowed chord does not move it.

use crate::key::{Key, Mode};
use crate::learned::f32_rows;
use crate::maths;
use crate::pitch::PitchClass;

/// Share of the sounding time of each semitone above the tonic, in major and minor.
static PROFILES: [[f32; 12]; 2] = f32_rows(include_bytes!("../../../models/key.model"), "profiles");

/// Sound this many quarter notes old counts half.
const HALF_LIFE_BEATS: f32 = 48.0;

/// How much better another key must fit before the key changes, in nats.
const STAY: f32 = 1.0;

/// What has sounded, and the key that it makes. Fixed size; real-time safe.
#[derive(Clone, Debug)]
pub struct Tonality {
    /// ln of the share of each degree, major and minor.
    logs: [[f32; 12]; 2],
    /// Beats of sound of each class, faded.
    sound: [f32; 12],
    key: Option<Key>,
}

impl Default for Tonality {
    fn default() -> Self {
        let logs = PROFILES.map(|profile| profile.map(maths::ln));
        Self { logs, sound: [0.0; 12], key: None }
    }
}

impl Tonality {
    /// A class has sounded for so many beats (quarter notes).
    pub fn hear(&mut self, class: PitchClass, beats: f32) {
        *class.of_mut(&mut self.sound) += beats.clamp(0.0, 16.0);
    }

    /// Time goes by, in quarter notes: what has sounded fades.
    pub fn fade(&mut self, beats: f32) {
        let left = maths::exp2(-beats.max(0.0) / HALF_LIFE_BEATS);
        self.sound.iter_mut().for_each(|s| *s *= left);
    }

    /// How well each of the 24 keys fits what has sounded, in nats; in the order
    /// of [`Tonality::keys`].
    fn fits(&self) -> [[f32; 12]; 2] {
        // Twice round the circle, so that the degrees of every tonic lie in a row.
        let twice: [f32; 24] = core::array::from_fn(|n| PitchClass::at(n).of(&self.sound));
        self.logs.map(|logs| {
            let mut fits = [0.0; 12];
            for (degree, log) in logs.into_iter().enumerate() {
                let sounds = twice.get(degree..).and_then(|row| row.first_chunk::<12>());
                for (fit, sound) in fits.iter_mut().zip(sounds.unwrap_or(&[0.0; 12])) {
                    *fit += sound * log;
                }
            }
            fits
        })
    }

    /// All 24 keys, major ones first, each from C.
    pub fn keys() -> impl Iterator<Item = Key> {
        [Mode::Major, Mode::Minor]
            .into_iter()
            .flat_map(|mode| PitchClass::all().map(move |tonic| Key { tonic, mode }))
    }

    /// How likely each of the 24 keys is, in the order of [`Tonality::keys`].
    pub fn odds(&self) -> [f32; 24] {
        let fits = self.fits();
        let most = fits.as_flattened().iter().copied().fold(f32::NEG_INFINITY, f32::max);
        let mut odds = [0.0; 24];
        odds.iter_mut().zip(fits.as_flattened()).for_each(|(odd, fit)| *odd = fit - most);
        crate::nats::all_odds(&mut odds);
        let sum: f32 = odds.iter().sum();
        odds.iter_mut().for_each(|odd| *odd /= sum);
        odds
    }

    /// Decides again; gives the key, `None` while nothing has sounded.
    pub fn decide(&mut self) -> Option<Key> {
        if self.sound.iter().sum::<f32>() < 1e-3 {
            return self.key;
        }
        let fits = self.fits();
        let (mut best, mut most) = (0, f32::NEG_INFINITY);
        for (index, &fit) in fits.as_flattened().iter().enumerate() {
            if fit > most {
                (best, most) = (index, fit);
            }
        }
        let [major, minor] = &fits;
        let of = |key: Key| key.tonic.of(if key.mode == Mode::Minor { minor } else { major });
        if self.key.is_none_or(|now| most > of(now) + STAY) {
            self.key = Self::keys().nth(best);
        }
        self.key
    }

    /// The key as last decided.
    pub fn key(&self) -> Option<Key> {
        self.key
    }

    /// Nothing has sounded.
    pub fn forget(&mut self) {
        self.sound = [0.0; 12];
        self.key = None;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sound(tonality: &mut Tonality, classes: &[i32], beats: f32) -> Option<Key> {
        tonality.fade(beats);
        classes.iter().for_each(|&c| tonality.hear(PitchClass::new(c), beats));
        tonality.decide()
    }

    #[test]
    fn two_five_one_is_in_its_key_on_every_tonic() {
        for tonic in 0..12 {
            let mut tonality = Tonality::default();
            let mut key = None;
            for chord in [[2, 5, 9], [7, 11, 2], [0, 4, 7]] {
                key = sound(&mut tonality, &chord.map(|c| c + tonic), 4.0);
            }
            assert_eq!(key, Some(Key { tonic: PitchClass::new(tonic), mode: Mode::Major }));
        }
    }

    #[test]
    fn one_borrowed_chord_does_not_move_the_key() {
        let mut tonality = Tonality::default();
        for chord in [[0, 4, 7], [5, 9, 0], [7, 11, 2], [0, 4, 7]] {
            sound(&mut tonality, &chord, 4.0);
        }
        let borrowed = sound(&mut tonality, &[5, 8, 0], 4.0); // F minor in C major
        assert_eq!(borrowed, Some(Key::C_MAJOR));
    }

    #[test]
    fn a_modulation_is_followed_in_the_end() {
        let mut tonality = Tonality::default();
        for _ in 0..8 {
            for chord in [[0, 4, 7], [5, 9, 0], [7, 11, 2]] {
                sound(&mut tonality, &chord, 4.0);
            }
        }
        let mut key = None;
        for _ in 0..8 {
            for chord in [[2, 6, 9], [7, 11, 2], [9, 1, 4]] {
                key = sound(&mut tonality, &chord, 4.0);
            }
        }
        assert_eq!(key.map(|k| k.tonic.index()), Some(2));
    }
}
