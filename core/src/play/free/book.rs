//! The book of bars: what pianists' left hands play, bar by bar, in the order
//! of their songs and apart from the chords they played it to.
//!
//! `core/models/left-hand-bars.bin`, learned by `tools/hand/learn_bars.py`,
//! whose first lines say what each byte is; `left-hand-bars.md` beside it is
//! its card.

/// The bytes of the book that ships.
const BOOK: &[u8] = include_bytes!("../../../models/left-hand-bars.bin");

const HEAD: usize = 14;
const SONG: usize = 4;
const BAR: usize = 4;
const NOTE: usize = 4;

/// A book of bars. Reading is by index: no search, no allocation.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Book {
    bytes: &'static [u8],
    songs: u16,
    bars: u16,
    notes: u16,
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
    /// The book that ships.
    pub fn shipped() -> Self {
        Self::read(BOOK).unwrap_or(Self { bytes: &[], songs: 0, bars: 0, notes: 0 })
    }

    /// A book from its bytes; `None` if they are none.
    pub fn read(bytes: &'static [u8]) -> Option<Self> {
        let word = |at: usize| Some(u16::from_le_bytes([*bytes.get(at)?, *bytes.get(at + 1)?]));
        let head = bytes.get(..4)? == b"SLHB" && word(4)? == 2;
        let book = Self { bytes, songs: word(6)?, bars: word(8)?, notes: word(10)? };
        (head && bytes.len() == book.note_at(book.notes)).then_some(book)
    }

    /// How many songs it has.
    pub fn songs(&self) -> u16 {
        self.songs
    }

    /// The bars of a song: the first, and the one after its last.
    pub fn song(&self, song: u16) -> (u16, u16) {
        let first = |song| self.word(self.song_at(song));
        (first(song), if song + 1 < self.songs { first(song + 1) } else { self.bars })
    }

    /// The last bar of the song that `bar` is in.
    pub fn last_bar_of_song(&self, bar: u16) -> u16 {
        let mut ends = (0..self.songs).map(|song| self.song(song).1);
        ends.find(|end| bar < *end).map_or(bar, |end| end - 1)
    }

    /// Quarter notes a minute of a song.
    pub fn tempo(&self, song: u16) -> f32 {
        f32::from(self.byte(self.song_at(song) + 2)) * 2.0
    }

    /// What the book says of a bar.
    pub fn bar(&self, bar: u16) -> BarHead {
        let at = self.bar_at(bar);
        let end = if bar + 1 < self.bars { self.word(self.bar_at(bar + 1)) } else { self.notes };
        BarHead { notes: (self.word(at), end), home: self.byte(at + 2), right: self.byte(at + 3) }
    }

    /// A note.
    pub fn note(&self, note: u16) -> Noted {
        let at = self.note_at(note);
        let bits = u32::from_le_bytes([0, 1, 2, 3].map(|byte| self.byte(at + byte)));
        let part = |from: u32, many: u32| (bits >> from & ((1 << many) - 1)) as u8;
        Noted {
            sixteenth: part(0, 4),
            key: part(4, 6) + 21,
            tone: part(10, 3),
            length: part(13, 8),
            push: f32::from(part(21, 7)) - 64.0,
            changed: part(28, 1) == 1,
        }
    }

    fn song_at(&self, song: u16) -> usize {
        HEAD + SONG * usize::from(song)
    }

    fn bar_at(&self, bar: u16) -> usize {
        self.song_at(self.songs) + BAR * usize::from(bar)
    }

    fn note_at(&self, note: u16) -> usize {
        self.bar_at(self.bars) + NOTE * usize::from(note)
    }

    fn byte(&self, at: usize) -> u8 {
        self.bytes.get(at).copied().unwrap_or(0)
    }

    fn word(&self, at: usize) -> u16 {
        u16::from_le_bytes([self.byte(at), self.byte(at + 1)])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_shipped_book_holds_songs_of_whole_bars() {
        let book = Book::read(BOOK).expect("a book");
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

    #[test]
    fn what_is_no_book_is_refused() {
        assert!(Book::read(b"").is_none());
        assert!(Book::read(b"SLHB\x02\0\0\0\0\0\x01\0\0\0").is_none(), "a note is missing");
    }
}
