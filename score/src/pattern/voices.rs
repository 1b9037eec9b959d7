//! The voices of a bar: places and words put together, ties counted out.

use std::ops::Range;

use super::row::Word;
use super::word::{self, Said, Wrong};
use sinistra_core::engine::Settings;
use sinistra_core::play::{Held, Part};
use sinistra_core::time::{Metre, Ticks};

/// What one voice does, place by place, over the bars of a `[[bar]]`.
pub struct PatternVoice<'a> {
    /// Bar by bar, its words.
    bars: &'a [Vec<Word<'a>>],
    /// Bar by bar, where they are counted; as many as the words.
    places: &'a [Vec<Ticks>],
    metre: Option<Metre>,
    rolls: bool,
}

impl<'a> PatternVoice<'a> {
    /// A row and its counts.
    pub fn new(
        bars: &'a [Vec<Word<'a>>],
        places: &'a [Vec<Ticks>],
        metre: Option<Metre>,
        rolls: bool,
    ) -> Self {
        Self { bars, places, metre, rolls }
    }

    /// Bar by bar what is struck at each place, if anything; ties are part of the
    /// note that they hold on.
    pub fn parts(&self, wrong: &mut Vec<Wrong>) -> Vec<Vec<Option<Part>>> {
        let mut parts: Vec<Vec<Option<Part>>> = Vec::new();
        // Where the note before was written, and how long ties have made it.
        let mut tied: Option<(usize, usize, Ticks)> = None;
        for (bar, words) in self.bars.iter().enumerate() {
            let mut row = Vec::new();
            for (index, word) in words.iter().enumerate() {
                let said = word::read(word.text, self.metre).unwrap_or_else(|found| {
                    wrong.extend(
                        found.into_iter().map(|(at, what, hint)| (spot(word, at), what, hint)),
                    );
                    Said::Nothing
                });
                let length = self.length(bar, index);
                row.push(match said {
                    Said::Nothing => {
                        tied = None;
                        None
                    }
                    Said::Part(part) => {
                        self.reached(word, &part, wrong);
                        tied = (!part.is_rest()).then_some((bar, index, length));
                        Some(part)
                    }
                    Said::Tie => {
                        match &mut tied {
                            Some((.., held)) => *held += length,
                            None => wrong.push((
                                word.span.clone(),
                                "a tie to nothing".into(),
                                "_ holds on the note of the place before it".into(),
                            )),
                        }
                        None
                    }
                });
                let next_ties = self.word(bar, index).is_some_and(|next| next.text == "_");
                if let Some((bar, index, held)) = tied.filter(|_| word.text == "_" && !next_ties) {
                    let this = if bar == parts.len() { row.get_mut(index) } else { None };
                    let this = match this {
                        Some(part) => Some(part),
                        None => parts.get_mut(bar).and_then(|row| row.get_mut(index)),
                    };
                    if let Some(Some(part)) = this {
                        if part.held != Held::Usual {
                            wrong.push((
                                word.span.clone(),
                                "its note has a length already".into(),
                                "either a length or a tie".into(),
                            ));
                        }
                        part.held = Held::For(held);
                    }
                    tied = None;
                }
            }
            parts.push(row);
        }
        parts
    }

    /// The word after a place, over the bar line.
    fn word(&self, bar: usize, index: usize) -> Option<&Word<'a>> {
        let here = self.bars.get(bar)?.get(index + 1);
        here.or_else(|| self.bars.get(bar + 1)?.first())
    }

    /// From a place to the next, or the bar line.
    fn length(&self, bar: usize, index: usize) -> Ticks {
        let places = self.places.get(bar).map_or(&[][..], Vec::as_slice);
        let end = self.metre.map_or(Ticks::ZERO, Metre::bar);
        let from = places.get(index).copied().unwrap_or(end);
        places.get(index + 1).copied().unwrap_or(end) - from
    }

    /// What cannot be struck and may not be rolled is a fault.
    fn reached(&self, word: &Word<'_>, part: &Part, wrong: &mut Vec<Wrong>) {
        let reach = i32::from(Settings::default().reach);
        let width = part.strokes.iter().map(word::width).max().unwrap_or(0);
        if !self.rolls && width > reach {
            let what = format!("`{}` spans {width} semitones, and a hand {reach}", word.text);
            let hint = "without rolls = false it is rolled from below; or write it narrower";
            wrong.push((word.span.clone(), what, hint.into()));
        }
    }
}

/// Some bytes of a word in the file; a row that is not written plainly is marked
/// as a whole.
fn spot(word: &Word<'_>, at: Range<usize>) -> Range<usize> {
    let plain = word.span.len() == word.text.len();
    if plain { word.span.start + at.start..word.span.start + at.end } else { word.span.clone() }
}

/// Bar by bar, where the bass and the voice above it surely cross.
pub fn crossings(bass: &[Vec<Option<Part>>], tenor: &[Vec<Option<Part>>]) -> Vec<(usize, usize)> {
    let mut found = Vec::new();
    for (bar, (low, high)) in bass.iter().zip(tenor).enumerate() {
        for (index, pair) in low.iter().zip(high).enumerate() {
            if let (Some(low), Some(high)) = pair
                && word::crosses(low, high)
            {
                found.push((bar, index));
            }
        }
    }
    found
}
