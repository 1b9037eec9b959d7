//! What the fuzzers share.

#[path = "../../tests/src/balance.rs"]
#[allow(dead_code)] // tests ask it more
mod balance;

use sinistra_core::engine::{Block, Engine, Output, Settings, Timed, Transport};
use sinistra_core::pitch::KeyNumber;
use sinistra_core::time::Metre;
use sinistra_score::{MidiFile, pattern_presets};

/// Takes what the engine sends, refuses some of it, and watches.
#[derive(Default)]
pub struct WatchedOutput {
    balance: balance::Balance,
    /// Refuses every fourth, counted from here; 0 for none.
    pub refuses: u32,
}

impl WatchedOutput {
    /// A block of so many frames begins.
    pub fn begin(&mut self, frames: u32) {
        self.balance.begin(frames);
    }

    /// Fails if a note sounds.
    pub fn silent(&self, when: &str) {
        self.balance.silent(when);
    }
}

impl Output for WatchedOutput {
    fn send(&mut self, event: Timed) -> bool {
        if self.refuses > 0 {
            self.refuses += 1;
            if self.refuses % 4 == 0 {
                return false;
            }
        }
        self.balance.take(&event);
        true
    }
}

/// A pattern that ships.
pub fn engine(settings: Settings, pattern: u8) -> Engine {
    let presets = pattern_presets();
    let preset = &presets[usize::from(pattern) % presets.len()];
    Engine::new(settings, preset.compile().expect("a preset"))
}

/// The engine over a file's right hand, as far as the first minutes.
pub fn harmonise(file: &MidiFile<'_>) {
    let Ok(part) = file.right_hand(None, None, KeyNumber::MIDDLE_C) else { return };
    let line = file.timeline();
    let rate = 8_000.0;
    let end = line.frame(file.end(), rate).min(8_000 * 240);
    let mut events: Vec<_> =
        file.messages(&part).into_iter().map(|(at, m)| (line.frame(at, rate), m)).collect();
    events.sort_by_key(|(at, _)| *at);
    let mut engine = engine(Settings::default(), 9);
    let cut = sinistra_score::Cut { rate, block: 512 };
    for note in sinistra_score::rehearse(&mut engine, line, &events, (0, end), cut) {
        assert!(note.off >= note.on);
    }
}

pub fn metre(thrown: u8) -> Metre {
    let metres = [(4, 4), (3, 4), (2, 4), (6, 8), (9, 8), (12, 8), (5, 4), (7, 8)];
    let (beats, unit) = metres[usize::from(thrown) % metres.len()];
    Metre::new(beats, unit).expect("a metre")
}

/// A block of silence after all was stopped.
pub fn stopped(beat: f64) -> Block<'static> {
    let transport =
        Transport { playing: false, beat, tempo: 120.0, metre: Metre::COMMON, bar: beat };
    Block { frames: 64, rate: 48_000.0, transport, events: &[] }
}
