//! Strokes of several tones: stacked from below, as far as the hand reaches.

use arrayvec::ArrayVec;

use super::reach::PlayableKeys;
use super::scale::Scale;
use super::{Moment, Role, Wish, limits, tones};
use crate::pitch::{KeyNumber, PitchClass, Semitones};

/// What a hand strikes at once: keys with what they are, lowest first.
pub type Grip = ArrayVec<(KeyNumber, Role), 4>;

/// The widest stroke that is rolled, in semitones: pianists' left hands reach
/// so far in 95 % of their strokes (POP909-CL, 119 songs).
pub const WIDEST_ROLL: i32 = 19;

/// Where strokes are stacked.
#[derive(Clone, Copy)]
pub struct Stand<'a> {
    /// What is heard and foreseen.
    pub moment: &'a Moment,
    /// The keys that may sound.
    pub keyboard: PlayableKeys,
    /// The bass of the chord, as it was struck.
    pub home: KeyNumber,
    /// Whether what is wider than the hand is rolled; else it is left out.
    pub rolls: bool,
}

impl Stand<'_> {
    /// The tone that a wish asks for, and how far above the bass it lies at least,
    /// in semitones.
    pub fn tone(self, wish: Wish) -> Option<(PitchClass, Role, i32)> {
        let chord = self.moment.chord;
        let of = |wish| tones::tone(chord, wish);
        let above = |semitones| {
            let class = chord.root.transpose(Semitones(semitones));
            let scale = Scale::of(self.moment.key, chord);
            (scale.has(class) || chord.tones().has(class)).then_some(class)
        };
        // A tone that the chord does not name passes by.
        let passing = |class: PitchClass, named| {
            if chord.tones().has(class) { named } else { Role::Passing }
        };
        Some(match wish {
            Wish::Root if chord.root == self.home.class() => (chord.root, Role::Octave, 12),
            Wish::Root => (chord.root, Role::Root, 1),
            Wish::OctaveUp | Wish::Octaves => (self.home.class(), Role::Octave, 12),
            Wish::ThirdUp => of(Wish::Third).map(|(class, role)| (class, role, 1))?,
            Wish::FifthUp => of(Wish::Fifth).map(|(class, role)| (class, role, 1))?,
            Wish::Tenth => of(Wish::Third).map(|(class, role)| (class, role, 12))?,
            Wish::Twelfth => of(Wish::Fifth).map(|(class, role)| (class, role, 12))?,
            Wish::AddedSixth => {
                let class = above(9).or_else(|| above(8))?;
                (class, passing(class, Role::Sixth), 1)
            }
            Wish::AddedNinth => {
                let class = above(2).or_else(|| above(1))?;
                (class, passing(class, Role::Ninth), 12)
            }
            Wish::Third | Wish::Fifth | Wish::Sixth | Wish::Seventh | Wish::Ninth => {
                of(wish).map(|(class, role)| (class, role, 1))?
            }
            _ => return None,
        })
    }

    /// The key of `wish` nearest above the bass: for tones that a figure writes
    /// by their distance from it, struck after it.
    pub fn fixed(self, wish: Wish) -> Option<(KeyNumber, Role)> {
        let (class, role, least) = self.tone(wish)?;
        let key = self.keyboard.keys(class).find(|key| key.distance(self.home).0 >= least)?;
        // What is broken may lie lower than what is struck together; only in close
        // position it growls.
        let close = key.distance(self.home).0 < 7;
        (!close || !limits::growls(self.home, key)).then_some((key, role))
    }

    /// `bottom` with `rest` above it, each on the next key that does not growl;
    /// what lies beyond the hand is left out unless it is rolled. `None` if the
    /// chord has not all of them.
    pub fn stacked(self, bottom: (KeyNumber, Role), rest: &[Wish]) -> Option<Grip> {
        let mut grip = Grip::new();
        grip.push(bottom);
        let widest = if self.rolls { WIDEST_ROLL } else { self.keyboard.span() };
        for &wish in rest {
            let (class, role, least) = self.tone(wish)?;
            let under = grip.last().map_or(bottom.0, |(key, _)| *key);
            let key = self.keyboard.keys(class).find(|&key| {
                let clear = grip.iter().all(|(low, _)| !limits::muddy(*low, key));
                key > under && key.distance(self.home).0 >= least && clear
            });
            let near = key.filter(|key| key.distance(bottom.0).0 <= widest);
            if let Some(key) = near.filter(|_| !grip.is_full()) {
                grip.push((key, role));
            }
        }
        Some(grip)
    }
}
