//! What the ear makes of the right hand at one moment.

use crate::chord::{Chord, NamedChord};
use crate::pitch::PitchClass;
use crate::time::Ticks;

/// An answer of [`super::Ear::listen`].
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct Hearing {
    /// The chord now; `None` until something was played.
    pub chord: Option<Chord>,
    /// How much its root is relied on, 0..=1: what the hand shows whole counts more
    /// than what songs say.
    pub certainty: f32,
    /// How likely each class is its root, C first, as often as it comes true; they
    /// add up to 1, or are 0 until something was played.
    pub odds: [f32; 12],
    /// The same as what is struck relies on it.
    pub roots: [f32; 12],
    /// How much is relied on each class being a tone of it.
    pub tones: [f32; 12],
    /// When this chord began: the moment it was struck, or the place where
    /// it was due if the hand let it be known only later.
    pub since: Ticks,
    /// Whether the root or the bass differs from the answer before.
    pub changed: bool,
    /// Whether the last stroke has settled; if not, ask again at `due`.
    pub settled: bool,
    /// When a new chord has just been struck: the chord before it, judged
    /// again now that the whole of it has sounded. Said once.
    pub revised: Option<Chord>,
}

impl Hearing {
    /// Relies on `chord` so much, and on what was said before with what is left.
    pub fn believe(&mut self, chord: Chord, sure: f32) {
        let tones = chord.tones().with(chord.bass);
        for class in PitchClass::all() {
            let odds = class.of_mut(&mut self.roots);
            *odds = mixed(*odds, chord.root == class, sure);
            let odds = class.of_mut(&mut self.tones);
            *odds = mixed(*odds, tones.has(class), sure);
        }
    }

    /// Knows so surely that the chord is `chord`.
    pub fn know(&mut self, chord: Chord, sure: f32) {
        self.believe(chord, sure);
        self.certainty = sure;
        for class in PitchClass::all() {
            let odds = class.of_mut(&mut self.odds);
            *odds = mixed(*odds, chord.root == class, sure);
        }
    }

    /// The chord, and how likely its root is.
    pub fn named(&self) -> Option<NamedChord> {
        let chord = self.chord?;
        Some(NamedChord { chord, certainty: chord.root.of(&self.odds) })
    }
}

/// Odds of a class that is so surely what it `is`.
fn mixed(odds: f32, is: bool, sure: f32) -> f32 {
    sure * f32::from(u8::from(is)) + (1.0 - sure) * odds
}
