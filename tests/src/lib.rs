//! Helpers for the whole-job tests in `tests/`: takes written as chords on
//! beats, the engine run over them, and the answer as a score to read.

#![allow(clippy::panic, reason = "a helper that fails fails its test")]

pub mod balance;
pub mod belief;
pub mod crowd;
pub mod hands;
pub mod modes;
mod paper;
pub mod songs;
pub mod tally;
pub mod tempo;

pub use paper::PaperHand;

use std::collections::BTreeMap;
use std::fmt::Write;

use sinistra_core::engine::{Engine, Message, Output, Settings, Timed};
use sinistra_core::pitch::KeyNumber;
use sinistra_core::play::Pattern;
use sinistra_core::time::{Metre, Ticks};
use sinistra_score::{Cut, LeftNote, Rehearsed, Timeline, find_pattern, rehearse_and_listen};

/// The key of a name such as `C4` or `Bb3` (scientific pitch notation).
///
/// # Panics
/// If it is not the name of a key.
pub fn key(name: &str) -> KeyNumber {
    KeyNumber::read(name).unwrap_or_else(|| panic!("no key: {name}"))
}

/// A right hand as it was played.
#[derive(Clone, Debug)]
pub struct RightHandTake {
    /// What happens when, in order.
    pub events: Vec<(Ticks, Message)>,
    /// Tempo and metre.
    pub timeline: Timeline,
    /// Where it ends.
    pub end: Ticks,
}

impl RightHandTake {
    /// Keys held from beat to beat (quarter notes): `(0.0, 4.0, "C4 E4 G4")`.
    pub fn of_chords(metre: Metre, tempo: f64, chords: &[(f64, f64, &str)]) -> Self {
        let mut events = Vec::new();
        let mut end = Ticks::ZERO;
        for &(from, until, keys) in chords {
            for name in keys.split_whitespace() {
                let (channel, key) = (0, key(name));
                events.push((Ticks::nearest(from), Message::On { channel, key, velocity: 80 }));
                events.push((Ticks::nearest(until), Message::off(channel, key)));
            }
            end = end.max(Ticks::nearest(until));
        }
        Message::sort(&mut events);
        Self { events, timeline: Timeline::constant(tempo, metre), end }
    }

    /// The left hand that an engine plays to it.
    pub fn played_by(&self, engine: &mut Engine, cut: Cut) -> Vec<LeftNote> {
        self.rehearsed_by(engine, cut).notes
    }

    /// All that comes of it with an engine.
    pub fn rehearsed_by(&self, engine: &mut Engine, cut: Cut) -> Rehearsed {
        let frame = |at: Ticks| self.timeline.frame(at, cut.rate);
        let events: Vec<_> = self.events.iter().map(|(at, m)| (frame(*at), *m)).collect();
        rehearse_and_listen(engine, &self.timeline, &events, (0, frame(self.end)), cut)
    }
}

/// Takes everything and counts it.
#[derive(Default)]
pub struct Counter(pub usize);

impl Output for Counter {
    fn send(&mut self, _: Timed) -> bool {
        self.0 += 1;
        true
    }
}

/// 48 kHz in blocks of 64.
pub const STUDIO: Cut = Cut { rate: 48_000.0, block: 64 };

/// The left hand to a take, by a pattern.
pub fn left_hand(take: &RightHandTake, settings: Settings, pattern: Box<Pattern>) -> Vec<LeftNote> {
    take.played_by(&mut Engine::new(settings, pattern), STUDIO)
}

/// A score to read: a line a key, highest first, a column a slice of a beat;
/// `#` starts a note, `=` holds it, `|` is a bar line.
pub fn score(notes: &[LeftNote], timeline: &Timeline, slices: i64, rate: f64) -> String {
    let slice = |frame: i64| {
        let at = timeline.tick_at_frame(frame, rate).0;
        (at * slices + Ticks::PER_BEAT / 2).div_euclid(Ticks::PER_BEAT).max(0) as usize
    };
    let mut lines: BTreeMap<KeyNumber, Vec<char>> = BTreeMap::new();
    let width = notes.iter().map(|n| slice(n.off)).max().unwrap_or(0);
    let bar = (timeline.place(Ticks::ZERO).metre.bar().0 * slices / Ticks::PER_BEAT) as usize;
    let width = width.div_ceil(bar.max(1)) * bar;
    for note in notes {
        let line = lines.entry(note.played.key).or_insert_with(|| vec!['.'; width]);
        let (on, off) = (slice(note.on), slice(note.off));
        for (n, cell) in line.iter_mut().enumerate().take(off.max(on + 1)).skip(on) {
            *cell = if n == on { '#' } else { '=' };
        }
    }
    let mut text = String::new();
    for (key, line) in lines.iter().rev() {
        let name = sinistra_core::key::Key::C_MAJOR.spell(key.class()).ascii();
        let _ = write!(text, "{:>3} |", format!("{name}{}", key.octave()));
        for part in line.chunks(bar.max(1)) {
            let _ = write!(text, "{}|", part.iter().collect::<String>());
        }
        text.push('\n');
    }
    text
}

/// A shipped pattern by its name, or the default.
///
/// # Panics
/// If there is no pattern of that name.
pub fn pattern(name: Option<&str>) -> Box<Pattern> {
    let Some(name) = name else { return Pattern::default_boxed() };
    let preset = find_pattern(name).unwrap_or_else(|| panic!("no pattern {name}"));
    preset.compile().unwrap_or_else(|faults| panic!("{faults}"))
}
