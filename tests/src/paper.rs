//! The left hand on paper: a pattern played over written chords, everything
//! foreseen, no right hand and no clock.

use std::collections::BTreeMap;
use std::fmt::Write;

use sinistra_core::chord::{Chord, Symbol, read_symbol};
use sinistra_core::engine::Settings;
use sinistra_core::foresee::{Forecast, Source};
use sinistra_core::key::{Key, Mode};
use sinistra_core::pitch::{KeyNumber, Spelled};
use sinistra_core::play::{LeftHand, Moment, Note, Pattern};
use sinistra_core::time::{Metre, Place, Ticks};

/// Chords written in bars: `C . Am . | F | . . G/B .` (a word for each equal
/// part of the bar, `.` holds on). A first bar in parentheses is a pick-up, a
/// word a beat: `(G) C | F`.
#[derive(Clone, Debug)]
pub struct PaperHand {
    /// The key.
    pub key: Key,
    /// The metre.
    pub metre: Metre,
    /// Where each chord starts, with its name.
    pub chords: Vec<(Ticks, Symbol)>,
    /// Where it starts: 0, or before it with a pick-up.
    pub start: Ticks,
    /// Where it ends.
    pub end: Ticks,
    /// How sure everything is, 0..=1; below zero nothing is foreseen.
    pub certainty: f32,
}

impl PaperHand {
    /// Reads a key (`C`, `F#m`), a metre (`4/4`) and bars of chords.
    ///
    /// # Panics
    /// If one of them cannot be read.
    pub fn new(key: &str, metre: &str, bars: &str) -> Self {
        let (tonic, mode) = Spelled::read(key).unwrap_or_else(|| panic!("no key: {key}"));
        let mode = if mode == "m" { Mode::Minor } else { Mode::Major };
        let (beats, unit) = metre.split_once('/').unwrap_or_else(|| panic!("no metre: {metre}"));
        let number = |text: &str| text.parse().unwrap_or_else(|_| panic!("no metre: {metre}"));
        let metre = Metre::new(number(beats), number(unit)).unwrap_or(Metre::COMMON);
        let mut chords = Vec::new();
        let mut bar = Ticks::ZERO;
        let read = |word: &str| {
            read_symbol(word).ok().flatten().unwrap_or_else(|| panic!("no chord: {word}"))
        };
        let (pick_up, bars) = bars
            .trim()
            .strip_prefix('(')
            .and_then(|bars| bars.split_once(')'))
            .unwrap_or(("", bars));
        let pick_up: Vec<_> = pick_up.split_whitespace().collect();
        let start = Ticks(-(pick_up.len() as i64) * metre.unit_ticks().0);
        for (n, word) in pick_up.iter().enumerate().filter(|(_, word)| **word != ".") {
            chords.push((start + Ticks(metre.unit_ticks().0 * n as i64), read(word)));
        }
        for words in bars.split('|') {
            let words: Vec<_> = words.split_whitespace().collect();
            for (n, word) in words.iter().enumerate().filter(|(_, word)| **word != ".") {
                let at = bar + Ticks(metre.bar().0 * n as i64 / words.len() as i64);
                chords.push((at, read(word)));
            }
            bar += metre.bar();
        }
        let key = Key { tonic: tonic.class(), mode };
        Self { key, metre, chords, start, end: bar, certainty: 1.0 }
    }

    fn chord_at(&self, at: Ticks) -> Option<(Ticks, Chord)> {
        let until = self.chords.partition_point(|(start, _)| *start <= at);
        let (start, chord) = self.chords.get(until.checked_sub(1)?)?;
        Some((*start, chord.chord()))
    }

    fn next_after(&self, at: Ticks, chord: Chord) -> Option<Forecast> {
        let next = self.chords.iter().find(|(start, next)| {
            let next = next.chord();
            *start > at && (next.root, next.bass) != (chord.root, chord.bass)
        });
        let (at, next) = next.filter(|_| self.certainty >= 0.0)?;
        Some(Forecast::new(next.chord(), *at, self.certainty, Source::Chart))
    }

    /// What the left hand plays to it; a change between slots gets its root at
    /// once.
    pub fn played(&self, pattern: &Pattern, settings: &Settings) -> Vec<Note> {
        let mut hand = LeftHand::new();
        let mut notes = Vec::new();
        let place = Place::first(self.metre);
        let mut now = self.start + Ticks(-1);
        let mut told = None;
        loop {
            let slot = pattern.next_slot(place, now, settings);
            let untold = self
                .chords
                .iter()
                .find(|(start, _)| *start > now && slot.is_none_or(|slot| *start < slot.grid));
            let at = match (untold, slot) {
                (Some((start, _)), _) => *start,
                (None, Some(slot)) => slot.at,
                (None, None) => break,
            };
            if at >= self.end {
                break;
            }
            now = at;
            let grid = if untold.is_some() { at } else { slot.map_or(at, |slot| slot.grid) };
            let Some((start, chord)) = self.chord_at(grid) else { continue };
            let moment = Moment {
                first: chord.bass,
                at,
                place: place.of(grid),
                chord,
                starts: told != Some(start),
                next: self.next_after(grid, chord),
                key: self.key,
                ceiling: KeyNumber::MIDDLE_C,
                loudness: 80,
                tempo: 100.0,
            };
            let stroke = match (untold, slot) {
                (None, Some(slot)) => hand.stroke(pattern, slot, &moment, settings),
                _ => hand.root_now(pattern, &moment, settings),
            };
            if !stroke.is_empty() {
                told = Some(start);
            }
            // What sounded ends with the new stroke, as in the engine.
            for note in notes.iter_mut().filter(|note: &&mut Note| note.until > at) {
                if !stroke.is_empty() {
                    note.until = at;
                }
            }
            notes.extend(stroke);
        }
        notes
    }

    /// The notes as a line of names, with the role of what is not the root:
    /// `C3 B2:passing | A2 …`; octaves struck together are joined by `+`.
    pub fn line(&self, notes: &[Note]) -> String {
        let mut text = String::new();
        let mut last: Option<Ticks> = None;
        for note in notes {
            let bar = |at: Ticks| at.0.div_euclid(self.metre.bar().0);
            match last {
                Some(at) if at == note.from => text.push('+'),
                Some(at) if bar(at) != bar(note.from) => text.push_str(" | "),
                Some(_) => text.push(' '),
                None => {}
            }
            last = Some(note.from);
            let _ =
                write!(text, "{}{}", self.key.spell(note.key.class()).ascii(), note.key.octave());
            if !matches!(note.role.name(), "root" | "octave") {
                let _ = write!(text, ":{}", note.role.name());
            }
        }
        text
    }

    /// A score: the count, the chords, then a line a key, highest first. A
    /// column is a sixteenth; `#` starts a note, `=` holds it, `|` is a bar line.
    pub fn score(&self, notes: &[Note]) -> String {
        let columns = ScoreColumns { from: self.start, bar: self.metre.bar() };
        let width = columns.of(self.end);
        let mut rows = vec![(String::new(), self.count(width)), (String::new(), vec![' '; width])];
        for (at, chord) in &self.chords {
            write_at(&mut rows[1].1, columns.of(*at), &chord.to_string());
        }
        let mut lines: BTreeMap<KeyNumber, Vec<char>> = BTreeMap::new();
        for note in notes {
            let line = lines.entry(note.key).or_insert_with(|| vec!['.'; width]);
            let (on, end) = (columns.of(note.from), columns.of(note.until + Ticks(SIXTEENTH / 2)));
            for (n, cell) in line.iter_mut().enumerate().take(end.max(on + 1)).skip(on) {
                *cell = if n == on { '#' } else { '=' };
            }
        }
        for (key, line) in lines.into_iter().rev() {
            rows.push((format!("{}{}", self.key.spell(key.class()).ascii(), key.octave()), line));
        }
        let mut text = String::new();
        for (name, line) in rows {
            let mut row = format!("{name:>3} |");
            for (n, cell) in line.iter().enumerate() {
                row.push(*cell);
                if columns.ends_bar(n) {
                    row.push('|');
                }
            }
            let _ = writeln!(text, "{}", row.trim_end());
        }
        text
    }

    /// The count above the score: numbers, and & where eighths are halves.
    fn count(&self, width: usize) -> Vec<char> {
        let columns = ScoreColumns { from: self.start, bar: self.metre.bar() };
        let mut row = vec![' '; width];
        let unit = self.metre.unit_ticks();
        let bars = self.start.0.div_euclid(columns.bar.0)..self.end.0.div_euclid(columns.bar.0);
        for bar in bars {
            for n in 0..i64::from(self.metre.beats()) {
                let at = Ticks(bar * columns.bar.0 + n * unit.0);
                if at < self.start {
                    continue;
                }
                write_at(&mut row, columns.of(at), &(n + 1).to_string());
                if unit.0 > SIXTEENTH * 2 {
                    write_at(&mut row, columns.of(at + Ticks(unit.0 / 2)), "&");
                }
            }
        }
        row
    }
}

const SIXTEENTH: i64 = Ticks::PER_BEAT / 4;

/// The columns of a score, a sixteenth each.
struct ScoreColumns {
    from: Ticks,
    bar: Ticks,
}

impl ScoreColumns {
    fn of(&self, at: Ticks) -> usize {
        usize::try_from((at - self.from).0.div_euclid(SIXTEENTH)).unwrap_or(0)
    }

    fn ends_bar(&self, column: usize) -> bool {
        let end = self.from.0 + (column as i64 + 1) * SIXTEENTH;
        end.rem_euclid(self.bar.0) == 0
    }
}

fn write_at(row: &mut [char], column: usize, text: &str) {
    for (cell, letter) in row.iter_mut().skip(column).zip(text.chars()) {
        *cell = letter;
    }
}
