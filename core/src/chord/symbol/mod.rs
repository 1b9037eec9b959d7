//! Chord symbols: a chord as it is written above a staff.

mod build;
mod kinds;
mod read;
mod spell;
mod write;

pub use read::{SymbolFault, read};

use super::{Chord, Quality};
use crate::key::WrittenKey;
use crate::pitch::{PitchClass, Spelled};

/// A chord with the spelling that its writer chose: B♭7 and A♯7 differ here
/// and are one [`Chord`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Symbol {
    /// The root.
    pub root: Spelled,
    /// Kind and changed degrees.
    pub quality: Quality,
    /// The bass after a slash.
    pub bass: Option<Spelled>,
}

impl Symbol {
    /// The chord that sounds.
    pub const fn chord(self) -> Chord {
        let root = self.root.class();
        let bass = match self.bass {
            Some(bass) => bass.class(),
            None => root,
        };
        Chord { root, quality: self.quality, bass }
    }

    /// A chord spelled for `key`: the root as the key spells it, a bass that
    /// is a tone of the chord as the chord spells it (E/G♯ in C major), any
    /// other bass as the key does.
    pub fn of(chord: Chord, key: impl Into<WrittenKey>) -> Self {
        let key = key.into();
        let root = key.spell(chord.root);
        let bass = (chord.bass != chord.root).then(|| {
            spell::tone(root, chord.quality, chord.bass).unwrap_or_else(|| key.spell(chord.bass))
        });
        Self { root, quality: chord.quality, bass }
    }

    /// How a tone of this chord is written: the third of D♭ is F, that of C♯
    /// is E♯. `None` if it is no tone of it, or would need a double accidental.
    pub fn tone(self, class: PitchClass) -> Option<Spelled> {
        spell::tone(self.root, self.quality, class)
    }

    /// The same degree of another key, spelled as it is here: F♯m7♭5 in C
    /// becomes G♯m7♭5 in D. What would need a double accidental is respelled.
    #[must_use]
    pub fn transpose(self, from: impl Into<WrittenKey>, to: impl Into<WrittenKey>) -> Self {
        spell::transpose(self, from.into(), to.into())
    }
}

#[cfg(test)]
mod tests;
