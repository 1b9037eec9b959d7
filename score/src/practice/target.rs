//! What is to be played: every note of both hands, placed and named.

use crate::count::Count;
use sinistra_core::chord::Symbol;
use sinistra_core::key::WrittenKey;
use sinistra_core::pitch::KeyNumber;
use sinistra_core::play::Role;
use sinistra_core::time::{Metre, Ticks};

/// Which hand a note belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize)]
#[serde(rename_all = "lowercase")]
#[allow(missing_docs, reason = "their names say it")]
pub enum Hand {
    Left,
    Right,
}

/// One note to be played.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TargetNote {
    /// When it is struck, from the first full bar's line.
    pub at: Ticks,
    /// When it is let go.
    pub until: Ticks,
    /// The key.
    pub key: KeyNumber,
    /// How hard, 1..=127.
    pub velocity: u8,
    /// The hand.
    pub hand: Hand,
    /// What it is to its chord; `None` in the right hand.
    pub role: Option<Role>,
    /// The chord symbol that stands over it, by which it is spelled.
    pub symbol: Option<Symbol>,
    /// The bar as printed, from 1; 0 is a pick-up.
    pub bar: i64,
    /// Which time through a repeat, from 1.
    pub pass: u8,
    /// The count in that bar.
    pub count: Count,
    /// Whether it falls on a felt beat (the dotted quarters in 6/8).
    pub on_pulse: bool,
}

/// An exercise: the notes asked for, in time order.
#[derive(Clone, Debug, PartialEq)]
pub struct Target {
    notes: Vec<TargetNote>,
    /// The key it is spelled in.
    pub key: WrittenKey,
    /// Quarter notes a minute at which it is practised.
    pub tempo: f64,
    /// The felt beat of its first bar.
    pub pulse: Ticks,
}

impl Target {
    /// Sorts the notes by time, then from low to high.
    #[must_use]
    pub fn new(
        mut notes: Vec<TargetNote>,
        key: impl Into<WrittenKey>,
        tempo: f64,
        metre: Metre,
    ) -> Self {
        notes.sort_by_key(|note| (note.at, note.key, note.hand));
        Self { notes, key: key.into(), tempo, pulse: metre.pulse() }
    }

    /// Every note, by time, then from low to high.
    #[must_use]
    pub fn notes(&self) -> &[TargetNote] {
        &self.notes
    }

    /// The same with these notes.
    #[must_use]
    pub(super) fn with_notes(&self, mut notes: Vec<TargetNote>) -> Self {
        notes.sort_by_key(|note| (note.at, note.key, note.hand));
        Self { notes, ..*self }
    }

    /// The same with the notes of one hand only.
    #[must_use]
    pub fn of_hand(&self, hand: Hand) -> Self {
        let notes = self.notes.iter().filter(|note| note.hand == hand).copied().collect();
        Self { notes, ..*self }
    }

    /// The same with the printed bars `first..=last` only.
    #[must_use]
    pub fn of_bars(&self, first: i64, last: i64) -> Self {
        let inside = |note: &&TargetNote| (first..=last).contains(&note.bar);
        Self { notes: self.notes.iter().filter(inside).copied().collect(), ..*self }
    }

    /// The same with the notes from `from` to before `to` only.
    #[must_use]
    pub fn between(&self, from: Ticks, to: Ticks) -> Self {
        let inside = |note: &&TargetNote| (from..to).contains(&note.at);
        Self { notes: self.notes.iter().filter(inside).copied().collect(), ..*self }
    }

    /// The length of a felt beat in milliseconds at `tempo`.
    #[must_use]
    pub fn pulse_ms(&self, tempo: f64) -> f64 {
        self.pulse.beats() * 60_000.0 / tempo
    }
}
