//! A line of bars.

use super::{ChartReader, TextPiece, header};
use crate::chart::{Bar, Cell, Content, RoadSigns};
use sinistra_core::chord::{Symbol, read_symbol};

const HINT_PLACES: &str = "between bar lines stand chords, dots that hold them, N.C. or %";

#[derive(Default)]
struct BarBeingRead {
    ending: Vec<u8>,
    metre: Option<sinistra_core::time::Metre>,
    signs: RoadSigns,
    /// The word before, if it was a sign.
    sign: String,
    cells: Vec<Cell>,
    same: bool,
    /// Where it starts and ends so far.
    spot: Option<(usize, usize)>,
    /// Whether something in it could not be read.
    faulty: bool,
}

/// What the last bar line of this line was.
#[derive(Clone, Copy, PartialEq)]
enum Before {
    Nothing,
    BarLine,
    RepeatEnd,
}

impl<'a> ChartReader<'a> {
    /// Reads the bars of one line. The first and the last bar line may be
    /// left out.
    pub(super) fn bars(&mut self, line: TextPiece<'a>) {
        let mut open = BarBeingRead::default();
        let mut before = Before::Nothing;
        let mut first = true;
        for token in tokens(line) {
            if !is_bar_line(token.text) {
                if before == Before::RepeatEnd && self.count(token) {
                    before = Before::Nothing;
                    continue;
                }
                self.word(token, &mut open);
                continue;
            }
            let (ends, starts) = (token.text.starts_with(':'), token.text.ends_with(':'));
            if open.spot.is_some() {
                self.close(&mut open, &mut first);
            } else if before == Before::BarLine && !ends && !starts {
                self.fault_at(token, "an empty bar", "a dot holds the chord, % repeats the bar");
            }
            if ends {
                match self.draft.bars.last_mut() {
                    Some(bar) => bar.repeat_end = Some(2),
                    None => {
                        self.fault_at(token, "a repeat ends before the first bar", "write `|:`");
                    }
                }
            }
            self.repeat_start |= starts;
            before = if ends { Before::RepeatEnd } else { Before::BarLine };
        }
        self.close(&mut open, &mut first);
    }

    /// `x3` behind `:|`.
    fn count(&mut self, token: TextPiece<'_>) -> bool {
        let Some(number) = token.text.strip_prefix(['x', 'X', '×']) else { return false };
        match number.parse::<u8>() {
            Ok(times) if (2..=99).contains(&times) => {
                if let Some(bar) = self.draft.bars.last_mut() {
                    bar.repeat_end = Some(times);
                }
            }
            _ => self.fault_at(token, format!("no count `{}`", token.text), "write x2 to x99"),
        }
        true
    }

    fn close(&mut self, open: &mut BarBeingRead, first: &mut bool) {
        let open = std::mem::take(open);
        let Some(spot) = open.spot else { return };
        let before = self.draft.bars.last().map(|bar| bar.metre);
        let metre = open.metre.or(before).unwrap_or(self.draft.metre);
        if open.metre.is_some() && self.draft.bars.is_empty() && self.draft.metre != metre {
            // `| 3/4 C |` at the very start says what `metre: 3/4` would.
            if self.named.contains(&"metre") {
                self.fault(spot.0, spot.1, "another metre than `metre:` says", "keep one");
            }
            self.draft.metre = metre;
        }
        let mut bar = Bar::plain(metre, open.cells);
        bar.starts_line = std::mem::take(first);
        bar.ending = open.ending;
        bar.signs = open.signs;
        if open.same {
            if !bar.cells().is_empty() {
                self.fault(spot.0, spot.1, "chords beside a `%`", "`%` stands alone in its bar");
            }
            bar.content = Content::Same;
        } else if bar.cells().is_empty() || open.faulty {
            if !open.faulty {
                self.fault(spot.0, spot.1, "a bar without a chord", HINT_PLACES);
            }
            bar.content = Content::Places(vec![Cell::NoChord]);
        }
        self.push_bar(bar, spot);
    }

    fn word(&mut self, word: TextPiece<'_>, open: &mut BarBeingRead) {
        let end = word.at + word.text.len();
        open.spot = Some((open.spot.map_or(word.at, |(from, _)| from), end));
        let before = std::mem::take(&mut open.sign);
        if open.signs.read(word.text, &before) {
            word.text.clone_into(&mut open.sign);
            return;
        }
        if matches!(before.to_lowercase().as_str(), "to" | "al") {
            let hint = "signs are Segno, Coda, To Coda, Fine, D.C., D.S., al Fine, al Coda";
            open.faulty = true;
            return self.fault_at(word, format!("`{before} {}` is no sign", word.text), hint);
        }
        let starts = open.cells.is_empty() && !open.same;
        if word.text.starts_with(|c: char| c.is_ascii_digit()) {
            if let Some(metre) = header::metre(word.text) {
                if !starts || open.metre.is_some() {
                    return self.misplaced(word, open, "a metre");
                }
                open.metre = Some(metre);
            } else if let Some(passes) = ending(word.text) {
                if !starts || open.metre.is_some() || !open.ending.is_empty() {
                    return self.misplaced(word, open, "an ending");
                }
                open.ending = passes;
            } else {
                open.faulty = true;
                self.fault_at(
                    word,
                    format!("`{}` is no metre and no ending", word.text),
                    "metres are such as 3/4, endings such as `1.` or `1,2.`",
                );
            }
        } else if matches!(word.text, "%" | "𝄎") {
            if open.same {
                return self.misplaced(word, open, "a second %");
            }
            open.same = true;
        } else if word.text == "/" {
            open.cells.push(Cell::Hold); // slash notation holds a chord, too
        } else {
            self.chord(word, open);
        }
    }

    fn misplaced(&mut self, word: TextPiece<'_>, open: &mut BarBeingRead, what: &str) {
        open.faulty = true;
        let hint = "a bar is: ending, metre, then chords, as in `|1. 3/4 C . G |`";
        self.fault_at(word, format!("{what} inside a bar"), hint);
    }

    /// A chord, N.C. or dots; dots may stick to the chord that they hold.
    fn chord(&mut self, word: TextPiece<'_>, open: &mut BarBeingRead) {
        let dots = word.text.len() - word.text.trim_end_matches('.').len();
        let name = word.cut(0, word.text.len() - dots);
        let (cell, dots) = match read_symbol(word.text) {
            Ok(None) => (Some(Cell::NoChord), 0),
            _ if name.text.is_empty() => (None, dots),
            _ => match Symbol::read(name.text) {
                Ok(symbol) => (Some(Cell::Chord(symbol)), dots),
                Err(fault) => {
                    open.faulty = true;
                    let (from, to) = (name.at + fault.from, name.at + fault.to);
                    return self.fault(from, to, fault.what, fault.hint);
                }
            },
        };
        open.cells.extend(cell);
        open.cells.extend(std::iter::repeat_n(Cell::Hold, dots.min(1000)));
    }
}

/// `1.`, `1,2.`, `1-3.`: the passes of an ending.
fn ending(text: &str) -> Option<Vec<u8>> {
    let mut passes = Vec::new();
    for part in text.strip_suffix('.')?.split(',') {
        let (from, to) = part.split_once('-').unwrap_or((part, part));
        let (from, to): (u8, u8) = (from.parse().ok()?, to.parse().ok()?);
        passes.extend(from..=to.min(99));
    }
    (!passes.is_empty() && passes.len() < 100).then_some(passes)
}

fn is_bar_line(text: &str) -> bool {
    text.contains('|')
}

/// Bar lines such as `|`, `|:`, `:|`, `:|:`, `||`, `|]`, and the words between.
fn tokens(line: TextPiece<'_>) -> Vec<TextPiece<'_>> {
    let bytes = line.text.as_bytes();
    let at = |n: usize| bytes.get(n).copied().unwrap_or(b' ');
    let bar_line = |n: usize| at(n) == b'|' || at(n) == b':' && at(n + 1) == b'|';
    let mut tokens = Vec::new();
    let mut from = 0;
    while from < bytes.len() {
        let mut to = from;
        if bar_line(from) {
            to += usize::from(at(to) == b':');
            while at(to) == b'|' {
                to += 1;
            }
            // `|:` starts a repeat; `:|:` and `:||:` end one and start one.
            to += usize::from(matches!(at(to), b':' | b']'));
        } else {
            while let Some(c) = line.text.get(to..).and_then(|rest| rest.chars().next()) {
                if c.is_whitespace() || bar_line(to) {
                    break;
                }
                to += c.len_utf8();
            }
        }
        if to > from {
            tokens.push(line.cut(from, to));
            from = to;
        } else {
            from += line.text.get(from..).and_then(|r| r.chars().next()).map_or(1, char::len_utf8);
        }
    }
    tokens
}
