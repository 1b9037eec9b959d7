//! A figure: one bar of a pianist's left hand, opened to be played.

use arrayvec::ArrayVec;

use super::book::{Book, Noted};
use crate::time::Ticks;

/// A sixteenth of the bar.
pub const SIXTEENTH: Ticks = Ticks(Ticks::PER_BEAT / 4);

/// The notes of one place of the bar, lowest first.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct FigurePlace {
    /// From the bar line.
    pub offset: Ticks,
    /// Which notes of the book.
    pub notes: (u16, u16),
    /// The bass that the pianist played it around, a MIDI key number.
    pub home: u8,
}

/// One bar: at most sixteen places.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Figure {
    /// In time order.
    pub places: ArrayVec<FigurePlace, 16>,
}

impl Figure {
    /// Opens a bar of the book. Real-time safe.
    pub fn open(book: &Book, bar: u16) -> Self {
        let head = book.bar(bar);
        let mut places: ArrayVec<FigurePlace, 16> = ArrayVec::new();
        let mut home = head.home;
        for at in head.notes.0..head.notes.1 {
            let note = book.note(at);
            let offset = Ticks(SIXTEENTH.0 * i64::from(note.sixteenth));
            if note.changed {
                home = bass_from(book, at, head.notes.1).unwrap_or(home);
            }
            match places.last_mut() {
                Some(last) if last.offset == offset => last.notes.1 = at + 1,
                _ => {
                    let _ = places.try_push(FigurePlace { offset, notes: (at, at + 1), home });
                }
            }
        }
        Self { places }
    }

    /// What stands `offset` after the bar line.
    pub fn at(&self, offset: Ticks) -> Option<&FigurePlace> {
        self.places.iter().find(|place| place.offset == offset)
    }

    /// The first place strictly after `offset`.
    pub fn after(&self, offset: Ticks) -> Option<&FigurePlace> {
        self.places.iter().find(|place| place.offset > offset)
    }
}

/// The lowest bass or root that is struck from note `from` on, before the chord
/// changes again.
fn bass_from(book: &Book, from: u16, end: u16) -> Option<u8> {
    let chord = |(n, note): &(usize, Noted)| *n == 0 || !note.changed;
    let notes = (from..end).map(|n| book.note(n)).enumerate().take_while(chord);
    notes.filter(|(_, note)| note.tone == 0).map(|(_, note)| note.key).min()
}

/// How long a note of the book is held: the grid of POP909-CL has six parts to a
/// sixteenth.
pub fn length(sixths: u8) -> Ticks {
    Ticks(i64::from(sixths.max(1)) * SIXTEENTH.0 / 6)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_bar_of_the_book_opens() {
        let book = Book::shipped();
        for song in 0..book.songs() {
            let (first, end) = book.song(song);
            for bar in first..end {
                let figure = Figure::open(&book, bar);
                assert!(figure.places.is_sorted_by(|a, b| a.offset < b.offset));
                let held: u16 = figure.places.iter().map(|p| p.notes.1 - p.notes.0).sum();
                let head = book.bar(bar);
                assert_eq!(held, head.notes.1 - head.notes.0);
            }
        }
    }
}
