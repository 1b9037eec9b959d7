//! The book of bars: what pianists' left hands play, bar by bar, in the order
//! of their songs and apart from the chords they played it to.
//!
//! `core/models/left-hand-bars.model`, learned by `tools/hand/learn_bars.py`,
//! whose first lines say what each byte is; `left-hand-bars.md` beside it is
//! its card.

use alloc::boxed::Box;

use once_cell::race::OnceBox;

use crate::learned::u8_rows;
use crate::pitch::PitchClass;

/// A book of bars. Reading is by index: no search, no allocation.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Book {
    signs: &'static [BarSigns],
    songs: &'static [[u8; 4]],
    bars: &'static [[u8; 4]],
    notes: &'static [[u8; 4]],
}

/// A bar as it stands in the book.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BarHead {
    /// The first of its notes, and the one after its last.
    pub notes: (u16, u16),
    /// The bass that it is played around, a MIDI key number.
    pub home: u8,
    /// How often the pianist's right hand strikes in it.
    pub right: u8,
}

/// What is looked at of a bar when one is chosen: at many, in one moment.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct BarSigns {
    /// The places that are struck; bit n is sixteenth n. None in a rest.
    pub struck: u16,
    /// The same of the bar before it.
    pub before: u16,
    /// The beats on which the chord changes; bit n is beat n.
    pub changes: u8,
    /// The bass that it is played around.
    pub home: PitchClass,
    /// How often the pianist's right hand strikes in the bar before it.
    pub right: u8,
}

/// A note as it stands in the book.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Noted {
    /// The sixteenth of the bar, 0..16.
    pub sixteenth: u8,
    /// The key that the pianist struck, a MIDI key number.
    pub key: u8,
    /// 0 bass or root, 1 third, 2 fifth, 3 seventh, 4 ninth, 5 sixth, 6 fourth.
    pub tone: u8,
    /// How long it is held, in sixths of a sixteenth.
    pub length: u8,
    /// Louder than the right hand asks for, in velocity.
    pub push: f32,
    /// Whether the chord has changed since the note before.
    pub changed: bool,
}

impl Book {
    /// The book that ships. Not for the audio thread: allocates.
    pub fn shipped() -> Self {
        const FILE: &[u8] = include_bytes!("../../../models/left-hand-bars.model");
        const SHIPPED: Book = Book::in_file(FILE);
        static SIGNS: OnceBox<Box<[BarSigns]>> = OnceBox::new();
        Self { signs: SIGNS.get_or_init(|| Box::new(SHIPPED.signs_of_all())), ..SHIPPED }
    }

    /// A book from a model file. Allocates, and never frees.
    ///
    /// # Panics
    /// If it is none.
    pub fn read(file: &'static [u8]) -> Self {
        let book = Self::in_file(file);
        Self { signs: Box::leak(book.signs_of_all()), ..book }
    }

    const fn in_file(file: &'static [u8]) -> Self {
        Self {
            signs: &[],
            songs: u8_rows(file, "songs"),
            bars: u8_rows(file, "bars"),
            notes: u8_rows(file, "notes"),
        }
    }

    fn signs_of_all(&self) -> Box<[BarSigns]> {
        let mut last = BarSigns::default();
        let signs = |bar| {
            let BarHead { notes: (from, end), home, .. } = self.bar(bar);
            let right = bar.checked_sub(1).map_or(0, |before| self.bar(before).right);
            let home = PitchClass::new(home.into());
            let begun = BarSigns { before: last.struck, home, right, ..BarSigns::default() };
            last = (from..end).map(|note| self.note(note)).fold(begun, |signs, note| BarSigns {
                struck: signs.struck | 1 << note.sixteenth,
                changes: signs.changes | u8::from(note.changed) << (note.sixteenth / 4),
                ..signs
            });
            last
        };
        (0..count(self.bars)).map(signs).collect()
    }

    /// How many songs it has.
    pub fn songs(&self) -> u16 {
        count(self.songs)
    }

    /// The bars of a song: the first, and the one after its last.
    pub fn song(&self, song: u16) -> (u16, u16) {
        let first = |song| word(row(self.songs, song));
        (first(song), if song + 1 < self.songs() { first(song + 1) } else { count(self.bars) })
    }

    /// The song that `bar` is in.
    pub fn song_of(&self, bar: u16) -> Option<u16> {
        let begun = self.songs.partition_point(|song| word(*song) <= bar);
        u16::try_from(begun).ok()?.checked_sub(1).filter(|_| bar < count(self.bars))
    }

    /// The last bar of the song that `bar` is in.
    pub fn last_bar_of_song(&self, bar: u16) -> u16 {
        self.song_of(bar).map_or(bar, |song| self.song(song).1 - 1)
    }

    /// Quarter notes a minute of a song.
    pub fn tempo(&self, song: u16) -> f32 {
        f32::from(row(self.songs, song)[2]) * 2.0
    }

    /// What the book says of a bar.
    pub fn bar(&self, bar: u16) -> BarHead {
        let [first @ .., home, right] = row(self.bars, bar);
        let end = match bar + 1 < count(self.bars) {
            true => word(row(self.bars, bar + 1)),
            false => count(self.notes),
        };
        BarHead { notes: (u16::from_le_bytes(first), end), home, right }
    }

    /// What a bar is chosen by; nothing beyond the last.
    pub fn signs(&self, bar: u16) -> BarSigns {
        self.signs.get(usize::from(bar)).copied().unwrap_or_default()
    }

    /// A note.
    pub fn note(&self, note: u16) -> Noted {
        let bits = u32::from_le_bytes(row(self.notes, note));
        let part = |from: u32, many: u32| {
            u8::try_from(bits >> from & ((1 << many) - 1)).unwrap_or(u8::MAX)
        };
        Noted {
            sixteenth: part(0, 4),
            key: part(4, 6) + 21,
            tone: part(10, 3),
            length: part(13, 8),
            push: f32::from(part(21, 7)) - 64.0,
            changed: part(28, 1) == 1,
        }
    }
}

fn count(rows: &[[u8; 4]]) -> u16 {
    u16::try_from(rows.len()).unwrap_or(u16::MAX)
}

/// A row; of nothing beyond the last.
fn row(rows: &[[u8; 4]], number: u16) -> [u8; 4] {
    rows.get(usize::from(number)).copied().unwrap_or_default()
}

/// The number that a row begins with.
fn word([low, high, ..]: [u8; 4]) -> u16 {
    u16::from_le_bytes([low, high])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_shipped_book_holds_songs_of_whole_bars() {
        let book = Book::shipped();
        assert!(book.songs() > 100);
        for song in 0..book.songs() {
            let (first, end) = book.song(song);
            assert!(first + 8 < end, "song {song}");
            assert!((40.0..260.0).contains(&book.tempo(song)), "song {song}");
            for bar in first..end {
                let head = book.bar(bar);
                let notes: Vec<_> = (head.notes.0..head.notes.1).map(|n| book.note(n)).collect();
                assert!(notes.is_sorted_by_key(|note| note.sixteenth), "bar {bar}");
                assert!(notes.iter().all(|note| note.key < 60 && note.tone < 7), "bar {bar}");
                assert!((21..72).contains(&head.home), "bar {bar}: {}", head.home);
            }
        }
    }
}
