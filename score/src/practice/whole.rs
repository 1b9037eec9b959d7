//! What holds of a take as a whole, so that it is said once and not of every
//! note: another octave, a late entry, a stop before the end.

use serde::Serialize;

use super::target::{Hand, Target, TargetNote};
use super::verdict::{NoteVerdict, Outcome};
use sinistra_core::pitch::{KeyNumber, Semitones};
use sinistra_core::time::Ticks;

/// What holds of the whole.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Whole {
    /// Octaves too high; negative: too low.
    pub octaves: i32,
    /// Whose octaves or entry these are; `None` is all that was played.
    pub hand: Option<Hand>,
    /// Felt beats too late; negative: too early.
    pub beats_late: i32,
    /// The bar after which nothing more was played.
    pub stopped_after: Option<i64>,
}

/// Notes missing at the end that are a stop and no forgotten last note.
const STOP: usize = 6;

impl Whole {
    /// What is tried where a take answers its target badly. `steady`: a
    /// metronome was heard, so that it is known when to enter.
    pub(super) fn tries(steady: bool) -> Vec<Self> {
        let mut tries = Vec::new();
        for by in [1, -1, 2, -2] {
            for hand in [None, Some(Hand::Left), Some(Hand::Right)] {
                tries.push(Self { octaves: by, hand, ..Self::default() });
            }
            if by.abs() == 1 || steady {
                let hand = if steady { None } else { Some(Hand::Left) };
                tries.push(Self { beats_late: by, hand, ..Self::default() });
            }
        }
        tries
    }

    /// The target as it would be if this were asked for; `None` where it falls
    /// off the keyboard.
    pub(super) fn asked(&self, target: &Target) -> Option<Target> {
        let move_note = |note: &TargetNote| self.moved(note, target.pulse, 1);
        let notes: Option<Vec<_>> = target.notes().iter().map(move_note).collect();
        Some(target.with_notes(notes?))
    }

    /// A judged note as it was asked for in truth.
    pub(super) fn as_asked(&self, note: &NoteVerdict, pulse: Ticks) -> NoteVerdict {
        let asked = self.moved(&note.note, pulse, -1).unwrap_or(note.note);
        NoteVerdict { note: asked, ..*note }
    }

    fn moved(&self, note: &TargetNote, pulse: Ticks, way: i32) -> Option<TargetNote> {
        if self.hand.is_some_and(|hand| hand != note.hand) {
            return Some(*note);
        }
        let by = Ticks(pulse.0 * i64::from(self.beats_late * way));
        let key: KeyNumber = note.key.transpose(Semitones(12 * self.octaves * way))?;
        Some(TargetNote { key, at: note.at + by, until: note.until + by, ..*note })
    }

    /// With where it stopped, if it did.
    pub(super) fn with_stop(self, notes: &[NoteVerdict]) -> Self {
        let last = notes.iter().rposition(|note| note.outcome != Outcome::Missed);
        let stopped = last.filter(|last| notes.len() - 1 - last >= STOP);
        Self { stopped_after: stopped.map(|last| notes[last].note.bar), ..self }
    }
}
