//! The engine under any host and player: notes balanced, in order, nothing left.
#![no_main]

use arbitrary::Arbitrary;
use libfuzzer_sys::fuzz_target;
use sinistra_core::engine::{Block, Message, Settings, Timed, Transport};
use sinistra_core::pitch::KeyNumber;
use sinistra_fuzz::{WatchedOutput, engine, metre, stopped};
use sinistra_score::{Chart, pattern_presets};

#[derive(Arbitrary, Debug)]
struct Night {
    pattern: u8,
    seed: u8,
    /// A chord for each bar; none, no chart.
    chart: Vec<u8>,
    deeds: Vec<EngineDeed>,
}

#[derive(Arbitrary, Debug)]
enum EngineDeed {
    /// Blocks without an event.
    Wait {
        blocks: u8,
        frames: u16,
    },
    Strike {
        frame: u8,
        key: u8,
        velocity: u8,
    },
    Release {
        frame: u8,
        key: u8,
    },
    Control {
        frame: u8,
        controller: u8,
        value: u8,
    },
    Chord {
        root: u8,
        kind: u8,
    },
    Jump {
        beat: i16,
    },
    Play(bool),
    Tempo(u16),
    Metre(u8),
    Set {
        split: u8,
        lowest: u8,
        highest: u8,
        busy: u8,
        swing: u8,
        reach: u8,
        window: u8,
        sure: u8,
    },
    Pattern(u8),
    Song(bool),
    Refuse(bool),
    Silence,
    Forget,
}

fn chart(roots: &[u8]) -> Option<Box<sinistra_core::foresee::Song>> {
    let names = ["C", "Dm", "E7", "F", "G", "Am", "Bdim", "Db", "F#m7b5", "N.C.", "Bb/D", "Ebmaj7"];
    let bars: Vec<&str> =
        roots.iter().take(16).map(|n| names[usize::from(*n) % names.len()]).collect();
    let text = format!("title: x\nkey: C\nmetre: 4/4\ntempo: 100\n\n| {} |\n", bars.join(" | "));
    Chart::read("chart", &text).ok().map(|chart| Box::new(chart.unfold()))
}

fuzz_target!(|night: Night| {
    let settings = Settings { seed: night.seed.into(), ..Settings::default() };
    let mut engine = engine(settings, night.pattern);
    let mut watch = WatchedOutput::default();
    drop(engine.swap_song(chart(&night.chart)));
    let (rate, mut beat, mut tempo, mut here) = (48_000.0, 0.0, 120.0, metre(0));
    let (mut playing, mut down) = (true, Vec::new());
    for deed in night.deeds.iter().take(400) {
        let (mut blocks, mut frames, mut events) = (1, 64u32, Vec::new());
        let mut on = |frame: u8, key: KeyNumber, velocity: u8| {
            down.push(key);
            let message = Message::On { channel: 0, key, velocity: velocity.clamp(1, 127) };
            Timed { frame: u32::from(frame) % 64, message }
        };
        match *deed {
            EngineDeed::Wait { blocks: n, frames: f } => {
                (blocks, frames) = (u32::from(n) % 64 + 1, u32::from(f) % 2049);
            }
            EngineDeed::Strike { frame, key, velocity } => {
                events.push(on(frame, KeyNumber::clamped(i32::from(key)), velocity));
            }
            EngineDeed::Chord { root, kind } => {
                let shape: [i32; 3] =
                    [[0, 4, 7], [0, 3, 7], [0, 4, 10], [0, 3, 6]][usize::from(kind) % 4];
                for key in down.drain(..) {
                    let message = Message::off(0, key);
                    events.push(Timed { frame: 0, message });
                }
                for step in shape {
                    let key = KeyNumber::clamped(60 + i32::from(root % 12) + step);
                    down.push(key);
                    let message = Message::On { channel: 0, key, velocity: 80 };
                    events.push(Timed { frame: 0, message });
                }
            }
            EngineDeed::Release { frame, key } => {
                let key = KeyNumber::clamped(i32::from(key));
                let message = Message::off(0, key);
                events.push(Timed { frame: u32::from(frame) % 64, message });
            }
            EngineDeed::Control { frame, controller, value } => {
                let (controller, value) = (controller & 127, value & 127);
                let message = Message::Control { channel: 0, controller, value };
                events.push(Timed { frame: u32::from(frame) % 64, message });
            }
            EngineDeed::Jump { beat: to } => beat = f64::from(to) / 4.0,
            EngineDeed::Play(on) => playing = on,
            EngineDeed::Tempo(to) => tempo = 20.0 + f64::from(to % 380),
            EngineDeed::Metre(to) => here = metre(to),
            EngineDeed::Set { split, lowest, highest, busy, swing, reach, window, sure } => {
                let key = |n: u8| KeyNumber::clamped(i32::from(n));
                engine.set(Settings {
                    split: key(split),
                    lowest: key(lowest),
                    highest: key(highest),
                    busy: busy % 101,
                    swing: 0.5 + f32::from(swing % 26) / 100.0,
                    reach: reach % 17,
                    window_ms: f32::from(window),
                    certainty: f32::from(sure % 101) / 100.0,
                    ..*engine.settings()
                });
            }
            EngineDeed::Pattern(n) => {
                let presets = pattern_presets();
                let preset = &presets[usize::from(n) % presets.len()];
                drop(engine.swap_pattern(preset.compile().expect("a preset")));
            }
            EngineDeed::Song(on) => drop(engine.swap_song(on.then(|| chart(&night.chart)).flatten())),
            EngineDeed::Refuse(on) => watch.refuses = u32::from(on),
            EngineDeed::Silence => {
                watch.begin(1);
                engine.silence(0, &mut watch);
            }
            EngineDeed::Forget => engine.forget(),
        }
        for n in 0..blocks {
            let bar = here.bar().beats();
            let bar = (beat / bar).floor() * bar;
            let transport = Transport { playing, beat, tempo, metre: here, bar };
            let now: &[Timed] = if n == 0 { &events } else { &[] };
            watch.begin(frames);
            engine.process(&Block { frames, rate, transport, events: now }, &mut watch);
            if playing {
                beat += f64::from(frames) * tempo / (60.0 * rate);
            } else if watch.refuses == 0 {
                watch.silent("stopped");
            }
        }
    }
    watch.refuses = 0;
    watch.begin(1);
    engine.silence(0, &mut watch);
    watch.begin(64);
    engine.process(&stopped(beat), &mut watch);
    watch.silent("at the end");
});
