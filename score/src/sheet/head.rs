//! How a key is spelled at its place: by its chord, else by the song's key.

use super::accidentals::Head;
use super::{Sheet, SheetNote};
use crate::spelling::spelled;
use sinistra_core::chord::Symbol;
use sinistra_core::pitch::KeyNumber;
use sinistra_core::time::Ticks;

impl Sheet {
    /// The chord that holds at `at`.
    pub(super) fn chord_at(&self, at: Ticks) -> Option<Symbol> {
        let after = self.chords.partition_point(|chord| chord.at <= at);
        self.chords.get(after.checked_sub(1)?)?.symbol
    }

    /// The notehead of a note. Tones of the chord are spelled as the chord is
    /// (G♯ in E7), its slash bass as written there, all else as the key is.
    pub(super) fn head(&self, note: &SheetNote) -> Head {
        self.head_of(note.key, note.at)
    }

    /// The notehead of any key at a moment.
    pub(super) fn head_of(&self, key: KeyNumber, at: Ticks) -> Head {
        Head::of(key, spelled(key.class(), self.chord_at(at), self.key))
    }

    /// A key as a pianist says it at a moment: `E♭2`.
    #[must_use]
    pub fn name_of(&self, key: KeyNumber, at: Ticks) -> String {
        let Head { spelled, octave } = self.head_of(key, at);
        format!("{spelled}{octave}")
    }
}
