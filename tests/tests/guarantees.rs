//! The engine's guarantees, over random music: crowded right hands, refused
//! events, jumps, stops, new settings, patterns and charts in mid-song.

use std::collections::BTreeSet;

use sinistra_core::engine::{Block, Engine, Message, Output, Played, Settings, Timed, Transport};
use sinistra_core::pitch::KeyNumber;
use sinistra_core::play::{Pattern, Role};
use sinistra_core::time::{Metre, Ticks};
use sinistra_score::{Cut, pattern_presets};
use sinistra_tests::balance::Balance;
use sinistra_tests::crowd::Crowd;
use sinistra_tests::{RightHandTake, STUDIO, pattern};

/// Takes what the engine sends, refuses some of it, and watches.
struct Watch {
    balance: Balance,
    refuses: bool,
    dice: Crowd,
    ons: usize,
    played: Vec<Played>,
}

impl Watch {
    fn new(seed: u64) -> Self {
        Self {
            balance: Balance::default(),
            refuses: false,
            dice: Crowd::new(seed),
            ons: 0,
            played: Vec::new(),
        }
    }
}

impl Output for Watch {
    fn send(&mut self, event: Timed) -> bool {
        if self.refuses && self.dice.below(4) == 0 {
            return false;
        }
        self.balance.take(&event);
        self.ons += usize::from(matches!(event.message, Message::On { .. }));
        true
    }

    fn played(&mut self, note: &Played) {
        self.played.push(*note);
    }
}

/// The right hand's keys (and the player's left) as they are down.
#[derive(Default)]
struct KeysDown {
    down: BTreeSet<KeyNumber>,
}

impl KeysDown {
    fn hear(&mut self, event: &Timed) {
        match event.message {
            Message::On { key, .. } => drop(self.down.insert(key)),
            Message::Off { key, .. } => drop(self.down.remove(&key)),
            // All notes off (MIDI 1.0).
            Message::Control { controller: 123, .. } => self.down.clear(),
            Message::Control { .. } => {}
        }
    }
}

fn preset(n: u64) -> Box<Pattern> {
    let presets = pattern_presets();
    presets[n as usize % presets.len()].compile().expect("a preset")
}

fn metre(n: u64) -> Metre {
    let (beats, unit) = [(4, 4), (3, 4), (6, 8), (7, 8), (5, 4)][n as usize % 5];
    Metre::new(beats, unit).expect("a metre")
}

/// A crowded song full of accidents.
struct Accidents {
    dice: Crowd,
    engine: Engine,
    watch: Watch,
    hands: KeysDown,
    time: Transport,
}

impl Accidents {
    /// What may befall before block `n`.
    fn befall(&mut self, n: u64) {
        let Self { dice, engine, watch, time, .. } = self;
        match dice.below(300) {
            0 => time.beat = dice.below(64) as f64 - 8.0,
            1 => time.playing = !time.playing,
            2 => time.tempo = 40.0 + dice.below(200) as f64,
            3 => drop(engine.swap_pattern(preset(n))),
            4 => time.metre = metre(n),
            5 => engine.forget(),
            6 => {
                let split = KeyNumber::clamped(48 + dice.below(18) as i32);
                let highest = KeyNumber::clamped(50 + dice.below(30) as i32);
                let busy = dice.below(101) as u8;
                let swing = 0.5 + dice.below(25) as f32 / 100.0;
                let channel = (dice.below(2) == 0).then_some(dice.below(16) as u8);
                let plays = dice.below(5) > 0;
                let settings =
                    Settings { split, highest, busy, swing, channel, plays, ..*engine.settings() };
                engine.set(settings);
            }
            7 => watch.refuses = !watch.refuses,
            8 => self.silence(),
            _ => {}
        }
    }

    fn silence(&mut self) {
        self.watch.balance.begin(1);
        self.engine.silence(0, &mut self.watch);
    }

    /// Plays a block, and checks each note of it.
    fn block(&mut self, frames: u32, events: &[Timed]) {
        let Self { engine, watch, hands, time, .. } = self;
        let Transport { playing, beat, tempo, metre, .. } = *time;
        let transport = Transport { playing, ..Transport::moving(beat, tempo, metre) };
        watch.balance.begin(frames);
        let before = watch.played.len();
        engine.process(&Block { frames, rate: STUDIO.rate, transport, events }, watch);
        let (mut heard, range) = (events.iter().peekable(), *engine.settings());
        for note in &watch.played[before..] {
            while heard.peek().is_some_and(|event| event.frame <= note.frame) {
                heard.next().into_iter().for_each(|event| hands.hear(event));
            }
            let tones = note.chord.tones().has(note.key.class());
            let bass = note.key.class() == note.chord.bass;
            assert!(tones || bass || note.role == Role::Passing, "{note:?}");
            assert!(note.key >= range.lowest && note.key <= range.highest, "{note:?}");
            let lowest = hands.down.range(range.split..).next();
            assert!(lowest.is_none_or(|lowest| note.key < *lowest), "{note:?} {lowest:?}");
            assert!(playing, "time stands still: {note:?}");
        }
        heard.for_each(|event| hands.hear(event));
        // What we share with the player is theirs.
        let ours = watch.balance.keys().filter(|key| !hands.down.contains(key));
        let (highest, lowest) = (ours.max(), hands.down.range(range.split..).next().copied());
        if !watch.refuses && !events.is_empty() {
            let crosses = highest.zip(lowest).is_some_and(|(ours, right)| ours > right);
            assert!(!crosses, "ours {highest:?} crosses {lowest:?}");
        }
        if playing {
            time.beat += f64::from(frames) * tempo / (60.0 * STUDIO.rate);
        } else if !watch.refuses {
            watch.balance.silent("stopped");
        }
    }
}

/// Plays it, and gives what was played.
fn accidents(seed: u64) -> Watch {
    println!("seed {seed}"); // shown where it fails
    let mut crowd = Crowd::new(seed);
    let mut song = Accidents {
        dice: Crowd::new(seed ^ 0xACC1),
        engine: Engine::new(Settings::default(), preset(seed)),
        watch: Watch::new(seed),
        hands: KeysDown::default(),
        time: Transport::moving(0.0, 120.0, metre(seed)),
    };
    for n in 0..4_000 {
        let frames = [0, 1, 64, 480, 1024, 4096][song.dice.below(6) as usize];
        let events = if frames == 0 { Vec::new() } else { crowd.block(frames) };
        song.befall(n);
        song.block(frames, &events);
    }
    // However much was refused: once there is room, all of it ends.
    song.watch.refuses = false;
    song.silence();
    song.time.playing = false;
    song.block(64, &[]);
    song.watch
}

#[test]
fn every_note_ends_and_is_right_whatever_happens() {
    let mut ons = 0;
    for seed in 1..=24 {
        let watch = accidents(seed);
        watch.balance.silent(&format!("seed {seed}"));
        ons += watch.ons;
    }
    // Where nothing is likely to be a tone the hand rests, and in this noise often.
    assert!(ons > 1_000, "only {ons} notes");
}

/// A right hand from a seed: chords and melody, a little off the grid.
fn take(seed: u64) -> RightHandTake {
    let mut crowd = Crowd::new(seed);
    let mut events = Vec::new();
    for n in 0..3_000i64 {
        for event in crowd.block(10) {
            events.push((Ticks(n * 10 + i64::from(event.frame)), event.message));
        }
    }
    events.sort_by_key(|(at, _)| *at);
    let timeline = RightHandTake::of_chords(Metre::COMMON, 110.0, &[]).timeline;
    RightHandTake { events, timeline, end: Ticks(30_000) }
}

fn plain(take: &RightHandTake, pattern: Box<Pattern>, cut: Cut) -> Vec<(i64, i64, u8, u8, Role)> {
    let notes = take.played_by(&mut Engine::new(Settings::default(), pattern), cut);
    let one = |n: &sinistra_score::LeftNote| {
        (n.on, n.off, n.played.key.number(), n.played.velocity, n.played.role)
    };
    notes.iter().map(one).collect()
}

#[test]
fn the_block_size_never_changes_the_music_of_any_pattern() {
    let mut notes = 0;
    for (n, preset) in pattern_presets().iter().enumerate() {
        let take = take(n as u64 + 1);
        let whole = plain(&take, pattern(Some(preset.slug)), STUDIO);
        for block in [1 + 6 * n as u32, 511, 8192] {
            let cut = Cut { rate: STUDIO.rate, block };
            let cut = plain(&take, pattern(Some(preset.slug)), cut);
            assert_eq!(cut, whole, "{} in blocks of {block}", preset.slug);
        }
        notes += whole.len();
    }
    assert!(notes > 300, "only {notes} notes");
}

#[test]
fn the_sample_rate_never_changes_the_music_on_the_grid() {
    let chords = [(0.0, 4.0, "C4 E4 G4"), (4.0, 8.0, "C4 E4 A4"), (8.0, 10.0, "C4 F4 A4")];
    let take = RightHandTake::of_chords(Metre::COMMON, 120.0, &chords);
    for preset in pattern_presets() {
        let line = |rate: f64| {
            let mut engine = Engine::new(Settings::default(), pattern(Some(preset.slug)));
            let notes = take.played_by(&mut engine, Cut { rate, block: 64 });
            let line = |n: &sinistra_score::LeftNote| (n.played.at, n.played.key);
            notes.iter().map(line).collect::<Vec<_>>()
        };
        let at_48 = line(48_000.0);
        assert!(at_48.len() > 2, "{}", preset.slug);
        for rate in [8_000.0, 44_100.0, 96_000.0, 192_000.0] {
            assert_eq!(line(rate), at_48, "{} at {rate} Hz", preset.slug);
        }
    }
}
