//! A gig of many hours, as fast as it goes: `cargo xtask soak --hours 24`.
//!
//! Songs of a hundred chords, each with its tempo, metre, pattern, settings, chart or
//! none; between and in them what happens on stage: the clock jumps (the machine
//! slept), the module is away and takes nothing, the keyboard is unplugged, the
//! engine is silenced, the transport stops. An hour is an hour of the engine's time.
//! Ends with 1 if a note is left, a note lies off its place, or memory grows.

use std::process::ExitCode;
use std::time::{Duration, Instant};

use sinistra_core::engine::{Block, Engine, Message, Output, Played, Settings, Timed, Transport};
use sinistra_core::pitch::KeyNumber;
use sinistra_core::time::Metre;
use sinistra_score::{Chart, pattern_presets};
use sinistra_tests::balance::Balance;
use sinistra_tests::crowd::Crowd;

const RATE: f64 = 48_000.0;
const FRAMES: u32 = 256;
/// As far as a note may lie from its place: half a tick at the slowest tempo, frames.
const NEAR: f64 = 50.0;
/// More blocks than an hour and its last song have.
const BLOCKS: usize = 2_000_000;
/// Chords of a song.
const CHORDS: u64 = 100;
const CHART: &str = "title: Soak\nkey: C\nmetre: 4/4\n\n|: C | Am | F | G7 :|\n";

/// What came out in an hour.
#[derive(Default)]
struct Hour {
    notes: u64,
    chords: u64,
    /// The longest that a note lay from its place, frames.
    off_grid: f64,
    /// Each block's time.
    blocks: Vec<Duration>,
}

#[derive(Default)]
struct GigWatch {
    away: bool,
    balance: Balance,
    transport: Option<Transport>,
    hour: Hour,
}

impl Output for GigWatch {
    fn send(&mut self, event: Timed) -> bool {
        if self.away {
            return false;
        }
        self.balance.take(&event);
        true
    }

    fn played(&mut self, note: &Played) {
        self.hour.notes += 1;
        let Some(transport) = self.transport else { return };
        let beat = transport.beat + f64::from(note.frame) * transport.tempo / 60.0 / RATE;
        let off = (beat - note.at.beats()).abs() * 60.0 / transport.tempo * RATE;
        self.hour.off_grid = self.hour.off_grid.max(off);
    }
}

/// Resident memory, KiB (Linux; 0 elsewhere).
fn memory() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmRSS:"));
    line.and_then(|line| line.trim().split(' ').next()?.parse().ok()).unwrap_or(0)
}

/// The gig: one engine from the first hour to the last.
struct Gig {
    engine: Engine,
    watch: GigWatch,
    dice: Crowd,
    down: Vec<KeyNumber>,
    transport: Transport,
    /// Engine time, frames.
    frames: u64,
}

impl Gig {
    fn new(seed: u64) -> Self {
        let pattern = pattern_presets()[0].compile().expect("a preset");
        let transport = Transport::moving(0.0, 120.0, Metre::COMMON);
        let engine = Engine::new(Settings::default(), pattern);
        let (mut watch, dice) = (GigWatch::default(), Crowd::new(seed));
        // All of it in use from the start: what grows after that is not ours.
        watch.hour.blocks = vec![Duration::from_nanos(1); BLOCKS];
        watch.hour.blocks.clear();
        Self { engine, watch, dice, down: Vec::new(), transport, frames: 0 }
    }

    fn hours(&self) -> f64 {
        self.frames as f64 / RATE / 3600.0
    }

    fn block(&mut self, events: &[Timed]) {
        let bar = self.transport.metre.bar().beats();
        self.transport.bar = (self.transport.beat / bar).floor() * bar;
        self.watch.transport = Some(self.transport);
        let block = Block { frames: FRAMES, rate: RATE, transport: self.transport, events };
        self.watch.balance.begin(FRAMES);
        let begun = Instant::now();
        self.engine.process(&block, &mut self.watch);
        self.watch.hour.blocks.push(begun.elapsed());
        self.frames += u64::from(FRAMES);
        if self.transport.playing {
            self.transport.beat += f64::from(FRAMES) * self.transport.tempo / 60.0 / RATE;
        }
    }

    /// Lets go of the chord and strikes another.
    fn chord(&mut self, root: u64) -> Vec<Timed> {
        let frame = self.dice.below(FRAMES.into()) as u32;
        let off = |key| Timed { frame, message: Message::off(0, key) };
        let mut events: Vec<_> = self.down.drain(..).map(off).collect();
        let shape: [u64; 3] = [[0, 4, 7], [0, 3, 7], [0, 4, 10]][self.dice.below(3) as usize];
        for step in shape {
            let key = KeyNumber::clamped(60 + ((root + step) % 12) as i32);
            if !self.down.contains(&key) {
                self.down.push(key);
                let message = Message::On { channel: 0, key, velocity: 80 };
                events.push(Timed { frame, message });
            }
        }
        self.watch.hour.chords += 1;
        events
    }

    fn accident(&mut self) {
        match self.dice.below(12) {
            0 => self.transport.beat += self.dice.below(100_000) as f64 / 3.0,
            1 => self.watch.away = !self.watch.away,
            2 => {
                let all = Message::Control { channel: 0, controller: 123, value: 0 };
                self.down.clear();
                self.block(&[Timed { frame: 0, message: all }]);
            }
            3 => {
                self.watch.balance.begin(1);
                self.engine.silence(0, &mut self.watch);
            }
            4 => self.transport.playing = !self.transport.playing,
            5 => self.transport.tempo = 30.0 + self.dice.below(250) as f64,
            6 => {
                let busy = self.dice.below(101) as u8;
                self.engine.set(Settings { busy, ..*self.engine.settings() });
            }
            _ => {}
        }
    }

    fn song(&mut self) {
        let presets = pattern_presets();
        let preset = &presets[self.dice.below(presets.len() as u64) as usize];
        drop(self.engine.swap_pattern(preset.compile().expect("a preset")));
        let chart =
            (self.dice.below(2) == 0).then(|| Chart::read("chart", CHART).expect("a chart"));
        drop(self.engine.swap_song(chart.map(|chart| Box::new(chart.unfold()))));
        let (beats, unit) = [(4, 4), (3, 4), (6, 8), (5, 4)][self.dice.below(4) as usize];
        self.transport.metre = Metre::new(beats, unit).expect("a metre");
        self.transport.beat = 0.0;
        self.transport.playing = true;
        for n in 0..CHORDS {
            let events = self.chord([0, 9, 5, 7][n as usize % 4]);
            self.block(&events);
            let until = self.transport.beat + self.transport.metre.bar().beats();
            let patience = self.frames + 48_000; // a stopped transport never gets there
            while self.transport.beat < until && (self.transport.playing || self.frames < patience)
            {
                self.block(&[]);
            }
            if self.dice.below(10) == 0 {
                self.accident();
            }
        }
        // Applause: everything comes back, stops, and is silent.
        self.watch.away = false;
        let off = |key: &KeyNumber| Message::off(0, *key);
        let ends: Vec<_> =
            self.down.iter().map(|key| Timed { frame: 0, message: off(key) }).collect();
        self.down.clear();
        self.transport.playing = false;
        self.block(&ends);
        self.block(&[]);
        self.watch.balance.silent("the song is over");
    }
}

fn main() -> ExitCode {
    let mut words = std::env::args().skip(1);
    let hours = match (words.next().as_deref(), words.next().and_then(|n| n.parse::<f64>().ok())) {
        (None, _) => 24.0,
        (Some("--hours"), Some(hours)) if hours > 0.0 => hours,
        _ => {
            eprintln!("soak --hours N");
            return ExitCode::from(2);
        }
    };
    let mut gig = Gig::new(7);
    let (mut notes, mut chords, mut farthest, mut kept) = (0, 0, 0.0f64, None);
    let mut next = 1.0f64;
    println!(
        "hour  chords   notes  off grid, frames  block: median   99.9 %    worst   memory, KiB"
    );
    while gig.hours() < hours {
        gig.song();
        if gig.hours() >= next.min(hours) {
            let mut hour = std::mem::take(&mut gig.watch.hour);
            hour.blocks.sort_unstable();
            let at = |part: f64| hour.blocks[((hour.blocks.len() - 1) as f64 * part) as usize];
            println!(
                "{:4.1} {:7} {:7} {:17.2}  {:>13?} {:>8?} {:>8?} {:13}",
                gig.hours(),
                hour.chords,
                hour.notes,
                hour.off_grid,
                at(0.5),
                at(0.999),
                at(1.0),
                memory()
            );
            (notes, chords) = (notes + hour.notes, chords + hour.chords);
            farthest = farthest.max(hour.off_grid);
            kept.get_or_insert_with(memory);
            hour.blocks.clear();
            gig.watch.hour.blocks = hour.blocks;
            next = gig.hours().floor() + 1.0;
        }
    }
    let grown = memory().saturating_sub(kept.unwrap_or(0));
    println!("{chords} chords, {notes} notes, every one ended; memory grew by {grown} KiB");
    if grown > 1024 || farthest > NEAR || notes < chords {
        println!("NOT as it should be");
        return ExitCode::FAILURE;
    }
    ExitCode::SUCCESS
}
