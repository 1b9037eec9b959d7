//! What sounds at the host's end.

use std::collections::BTreeMap;

/// An output, a channel, a key.
pub type NotePlace = (u8, i16, i16);

/// Counts the notes that are on at each place.
#[derive(Default)]
pub struct NoteCounts(BTreeMap<NotePlace, i32>);

impl NoteCounts {
    /// Notes on and off; an end must be where its start was.
    pub fn take(&mut self, notes: impl Iterator<Item = (bool, NotePlace)>) {
        for (on, place) in notes {
            let count = self.0.entry(place).or_default();
            *count += if on { 1 } else { -1 };
            assert!(*count >= 0, "an off without an on: {place:?}");
        }
    }

    /// Where something sounds, and how many times.
    pub fn sounding(&self) -> Vec<(NotePlace, i32)> {
        self.0.iter().map(|(place, count)| (*place, *count)).filter(|(_, n)| *n > 0).collect()
    }
}
