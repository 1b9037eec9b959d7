//! Chords: a root, a quality and a bass.

mod kind;
mod quality;
mod symbol;

pub use kind::Kind;
pub use quality::{Alteration, Degree, Quality};
pub use symbol::{Symbol, SymbolFault, read as read_symbol};

use crate::pitch::{PitchClass, PitchSet, Semitones};

/// A chord as the left hand needs it. Spelling lives in charts, not here.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Chord {
    /// The root, whatever the inversion.
    pub root: PitchClass,
    /// Kind and altered degrees.
    pub quality: Quality,
    /// What the lowest voice should sound: the root, or the bass after a slash.
    pub bass: PitchClass,
}

/// A chord with how sure it is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NamedChord {
    /// The chord.
    pub chord: Chord,
    /// How sure its root is, 0..=1.
    pub certainty: f32,
}

impl NamedChord {
    /// Another chord that is less likely than this is not worth a word (our own choice).
    pub const LEAST: f32 = 0.05;
}

impl Chord {
    /// A chord in root position.
    pub const fn new(root: PitchClass, kind: Kind) -> Self {
        Self { root, quality: Quality::plain(kind), bass: root }
    }

    /// The same over another bass.
    #[must_use]
    pub const fn over(self, bass: PitchClass) -> Self {
        Self { bass, ..self }
    }

    /// Whether the left hand would play the same to both: one root, one bass.
    pub fn same_bass(self, other: Self) -> bool {
        self.root == other.root && self.bass == other.bass
    }

    /// Its tones, without a foreign slash bass.
    pub fn tones(self) -> PitchSet {
        self.quality.tones().transpose(Semitones(self.root.index() as i32))
    }

    /// The third (or the suspended tone that stands for it), if it has one.
    pub fn third(self) -> Option<PitchClass> {
        self.tone_among(&[4, 3]).or_else(|| self.tone_among(&[5, 2]))
    }

    /// The fifth, perfect or altered, if it has one.
    pub fn fifth(self) -> Option<PitchClass> {
        self.tone_among(&[7, 6, 8])
    }

    /// The seventh, or the sixth that stands for it.
    pub fn seventh(self) -> Option<PitchClass> {
        self.tone_among(&[10, 11, 9])
    }

    /// The first of `above_root` (semitones) that is a tone of the chord.
    fn tone_among(self, above_root: &[i32]) -> Option<PitchClass> {
        let tones = self.tones();
        above_root
            .iter()
            .map(|&s| self.root.transpose(Semitones(s)))
            .find(|&class| tones.has(class))
    }

    /// The same chord, all of it moved.
    #[must_use]
    pub const fn transpose(self, by: Semitones) -> Self {
        Self { root: self.root.transpose(by), quality: self.quality, bass: self.bass.transpose(by) }
    }
}
