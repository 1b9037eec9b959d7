//! The notes of late: what was struck when, and how long it sounded.

use arrayvec::ArrayVec;

use crate::pitch::{KeyNumber, PitchClass};
use crate::time::Ticks;

/// A note that sounds or has sounded.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct HeardNote {
    /// Its key.
    pub key: KeyNumber,
    /// When it was struck.
    pub on: Ticks,
    /// When it ended; `None` while it sounds.
    pub off: Option<Ticks>,
}

impl HeardNote {
    /// Its pitch class.
    pub fn class(&self) -> PitchClass {
        self.key.class()
    }

    /// Quarter notes of sound between `from` and `now`.
    pub fn beats(&self, from: Ticks, now: Ticks) -> f32 {
        let start = self.on.0.max(from.0);
        let end = self.off.map_or(now.0, |off| off.0.min(now.0));
        end.saturating_sub(start).max(0) as f32 / Ticks::PER_BEAT as f32
    }
}

/// The last notes, in the order in which they were struck. When full, the
/// oldest makes room.
#[derive(Clone, Debug, Default)]
pub struct Notes {
    notes: ArrayVec<HeardNote, { Notes::MOST }>,
    /// Keys that sound (bit n is key n), be it that their note has made room.
    sounds: u128,
}

impl Notes {
    /// Some four bars of busy playing.
    pub const MOST: usize = 96;

    /// A key is struck; if it sounds still, that note ends here.
    pub fn strike(&mut self, key: KeyNumber, at: Ticks) {
        self.end(1 << key.number(), at);
        if self.notes.is_full() {
            self.notes.remove(0);
        }
        self.notes.push(HeardNote { key, on: at, off: None });
        self.sounds |= 1 << key.number();
    }

    /// Keys (bit n is key n) sound no more.
    pub fn end(&mut self, keys: u128, at: Ticks) {
        let mut left = keys & self.sounds;
        self.sounds &= !keys;
        // Each has one note that sounds, and that is one of the last.
        for note in self.notes.iter_mut().rev() {
            if left == 0 {
                return;
            }
            if note.off.is_none() && left >> note.key.number() & 1 == 1 {
                note.off = Some(at);
                left &= !(1 << note.key.number());
            }
        }
    }

    /// Time has jumped to `now`: what sounds is as if struck there, the rest
    /// is long ago and forgotten.
    pub fn jump(&mut self, now: Ticks) {
        self.notes.retain(|note| note.off.is_none());
        self.notes.iter_mut().for_each(|note| note.on = now);
    }

    /// All, oldest first.
    pub fn iter(&self) -> impl DoubleEndedIterator<Item = &HeardNote> {
        self.notes.iter()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_key_struck_again_ends_its_first_note() {
        let mut notes = Notes::default();
        notes.strike(KeyNumber::MIDDLE_C, Ticks(0));
        notes.strike(KeyNumber::MIDDLE_C, Ticks(960));
        let beats: Vec<_> = notes.iter().map(|n| n.beats(Ticks(0), Ticks(1440))).collect();
        assert_eq!(beats, [1.0, 0.5]);
    }

    #[test]
    fn the_oldest_makes_room() {
        let mut notes = Notes::default();
        for n in 0..200 {
            notes.strike(KeyNumber::clamped(n % 128), Ticks(n.into()));
        }
        assert_eq!(notes.iter().next().map(|n| n.on), Some(Ticks(200 - Notes::MOST as i64)));
    }
}
