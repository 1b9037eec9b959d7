//! What the ear makes of the right hand at one moment.

use crate::chord::Chord;
use crate::pitch::PitchClass;
use crate::time::Ticks;

/// An answer of [`super::Ear::listen`].
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct Hearing {
    /// The chord now; `None` until something was played.
    pub chord: Option<Chord>,
    /// How sure its root is, 0..=1.
    pub certainty: f32,
    /// How likely each class is its root, C first; they add up to 1, or are 0
    /// until something was played.
    pub roots: [f32; 12],
    /// How likely each class is a tone of it.
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
    /// Says `chord` so surely, and what was said before with what is left.
    pub fn believe(&mut self, chord: Chord, sure: f32) {
        let mix = |odds: f32, is: bool| sure * f32::from(u8::from(is)) + (1.0 - sure) * odds;
        for class in PitchClass::all() {
            let (root, tone) = (chord.root == class, chord.tones().has(class));
            let odds = class.of_mut(&mut self.roots);
            *odds = mix(*odds, root);
            let odds = class.of_mut(&mut self.tones);
            *odds = mix(*odds, tone || chord.bass == class);
        }
    }
}
