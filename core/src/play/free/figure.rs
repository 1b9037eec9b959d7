//! A figure: one bar of a pianist's left hand, opened to be played.

use arrayvec::ArrayVec;

use super::book::{Book, Noted};
use super::fit::Fit;
use crate::time::Ticks;

/// A sixteenth of the bar.
pub const SIXTEENTH: Ticks = Ticks(Ticks::PER_BEAT / 4);

/// Whether a stroke so long after the bar line is one off the eighths: nearer to the
/// sixteenth between two of them than to a triplet.
pub fn is_off_the_eighths(offset: Ticks) -> bool {
    let eighth = 2 * SIXTEENTH.0;
    (offset.0.rem_euclid(eighth) - SIXTEENTH.0).abs() <= SIXTEENTH.0 / 6
}

/// The notes of one place of the bar, lowest first.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct FigurePlace {
    /// From the bar line.
    pub offset: Ticks,
    /// Which notes of the book.
    pub notes: (u16, u16),
    /// How long what ends in its bar of the book may be held, and there.
    pub room: (Ticks, Ticks),
    /// The bass that the pianist played it around, a MIDI key number.
    pub home: u8,
}

/// One bar: at most so many places.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Figure {
    /// In time order.
    pub places: ArrayVec<FigurePlace, 28>,
}

impl Figure {
    /// Opens a bar of the book, and the next if `fit` takes more, in the metre that
    /// `fit` is for. Real-time safe.
    pub fn open(book: &Book, bar: u16, fit: &Fit) -> Self {
        let last = book.last_bar_of_song(bar);
        let mut figure = Self::default();
        for stretch in fit.stretches() {
            let on = u16::try_from(stretch.from.0 / Fit::BAR.0).unwrap_or(0);
            let written = Self::written(book, (bar + on).min(last));
            let line = Ticks(Fit::BAR.0 * i64::from(on));
            let end = stretch.from + stretch.length;
            let here = written
                .into_iter()
                .filter(|place| (stretch.from..end).contains(&(line + place.offset)));
            for place in here {
                let offset = stretch.to + (line + place.offset - stretch.from);
                let room = (fit.bar() - offset, Fit::BAR - place.offset);
                let _ = figure.places.try_push(FigurePlace { offset, room, ..place });
            }
        }
        figure
    }

    /// A bar as it stands in the book.
    fn written(book: &Book, bar: u16) -> ArrayVec<FigurePlace, 16> {
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
                    let (notes, room) = ((at, at + 1), Default::default());
                    let _ = places.try_push(FigurePlace { offset, notes, room, home });
                }
            }
        }
        places
    }

    /// Rests from `offset` on: nothing is struck there, nor held into it. Real-time safe.
    pub fn break_off(&mut self, offset: Ticks) {
        self.places.retain(|place| place.offset < offset);
        for place in &mut self.places {
            place.room = (offset - place.offset, Ticks(i64::MAX));
        }
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

impl FigurePlace {
    /// How long a note of the place is held: the grid of POP909-CL has six parts to a
    /// sixteenth. What ends within its bar there ends within ours.
    pub fn held(&self, sixths: u8) -> Ticks {
        let length = Ticks(i64::from(sixths.max(1)) * SIXTEENTH.0 / 6);
        let (ours, theirs) = self.room;
        if ours < theirs && length <= theirs { length.min(ours) } else { length }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::time::Metre;

    #[test]
    fn a_sixteenth_lies_off_the_eighths_and_no_triplet_does() {
        let beat = Ticks::PER_BEAT;
        let off = |offset| is_off_the_eighths(Ticks(offset));
        // A hand is never quite in time: a hundredth of a beat early or late.
        for near in [-beat / 100, 0, beat / 100] {
            assert!([1, 3, 5, 15].iter().all(|n| off(n * beat / 4 + near)), "{near}");
            assert!(![0, 1, 2, 3, 7].iter().any(|n| off(n * beat / 2 + near)), "{near}");
            assert!(![1, 2, 4, 5].iter().any(|n| off(n * beat / 3 + near)), "{near}");
        }
    }

    #[test]
    fn what_breaks_off_after_a_beat_rests_from_the_second_on() {
        let (book, beat) = (Book::shipped(), Ticks(Ticks::PER_BEAT));
        let (_, end) = book.song(book.songs() - 1);
        let mut struck = 0;
        for bar in (0..end).step_by(5) {
            let whole = Figure::open(&book, bar, &Fit::of(Metre::COMMON, 0));
            let mut figure = whole.clone();
            figure.break_off(beat);
            let first = |place: &&FigurePlace| place.offset < beat;
            assert_eq!(figure.places.len(), whole.places.iter().filter(first).count());
            for place in &figure.places {
                let ends = |sixths| place.offset + place.held(sixths);
                assert!((1..=u8::MAX).all(|sixths| ends(sixths) <= beat), "{place:?}");
                assert_eq!(place.held(1), SIXTEENTH / 6);
                struck += 1;
            }
        }
        assert!(struck > 1000, "{struck}");
    }

    #[test]
    fn every_bar_of_the_book_opens() {
        let book = Book::shipped();
        for song in 0..book.songs() {
            let (first, end) = book.song(song);
            for bar in first..end {
                let figure = Figure::open(&book, bar, &Fit::of(Metre::COMMON, 0));
                assert!(figure.places.is_sorted_by(|a, b| a.offset < b.offset));
                let held: u16 = figure.places.iter().map(|p| p.notes.1 - p.notes.0).sum();
                let head = book.bar(bar);
                assert_eq!(held, head.notes.1 - head.notes.0);
            }
        }
    }
}
