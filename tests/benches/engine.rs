//! What a block costs: 64 frames at 48 kHz, idle and playing; the worst block
//! of a crowded song of four minutes, and of a played one; and the crowded song
//! from end to end. `cargo bench --package sinistra-tests --bench engine`; the
//! played song is the take that ships, or `SONG=FILE.mid`.

use std::hint::black_box;
use std::path::PathBuf;
use std::time::{Duration, Instant};

use criterion::Criterion;
use sinistra_core::engine::{Block, Engine, Message, Output, Settings, Timed, Transport};
use sinistra_core::pitch::KeyNumber;
use sinistra_core::score::MidiFile;
use sinistra_core::time::Metre;
use sinistra_tests::crowd::Crowd;
use sinistra_tests::pattern;

const FRAMES: u32 = 64;
const RATE: f64 = 48_000.0;
const TEMPO: f64 = 120.0;
/// Four minutes.
const SONG: usize = 4 * 60 * 48_000 / 64;

/// Takes everything and counts it.
#[derive(Default)]
struct Counter(usize);

impl Output for Counter {
    fn send(&mut self, _event: Timed) -> bool {
        self.0 += 1;
        true
    }
}

fn engine() -> Engine {
    Engine::new(Settings::default(), pattern(Some("everything-mixed")))
}

fn block(n: usize, playing: bool, events: &[Timed]) -> Block<'_> {
    let beat = n as f64 * f64::from(FRAMES) * TEMPO / (60.0 * RATE);
    let bar = (beat / 4.0).floor() * 4.0;
    let transport = Transport { playing, beat, tempo: TEMPO, metre: Metre::COMMON, bar };
    Block { frames: FRAMES, rate: RATE, transport, events }
}

/// The crowded song, cut into blocks.
fn song(blocks: usize) -> Vec<Vec<Timed>> {
    let mut crowd = Crowd::new(11);
    (0..blocks).map(|_| crowd.block(FRAMES)).collect()
}

/// Each block's shortest time of several runs, so that what the system does
/// meanwhile is not counted; then the distribution over the song.
fn worst(name: &str, blocks: &[Block<'_>]) {
    let mut times = vec![Duration::MAX; blocks.len()];
    let mut sent = 0;
    for _ in 0..7 {
        let (mut engine, mut out) = (engine(), Counter::default());
        for (block, time) in blocks.iter().zip(&mut times) {
            let start = Instant::now();
            engine.process(black_box(block), &mut out);
            *time = start.elapsed().min(*time);
        }
        sent = out.0;
    }
    assert!(sent > 20, "the left hand played {sent} events");
    times.sort();
    let at = |part: f64| times[((times.len() - 1) as f64 * part) as usize];
    println!(
        "a block of the {name} song: median {:?}, 99.9 % {:?}, worst {:?} ({} blocks, {sent} events)",
        at(0.5),
        at(0.999),
        at(1.0),
        times.len()
    );
}

/// The right hand of a MIDI file, cut into blocks: the clock and the events of each.
fn played(path: &PathBuf) -> Vec<(Transport, Vec<Timed>)> {
    let bytes = std::fs::read(path).expect("a file");
    let file = MidiFile::read(&path.to_string_lossy(), &bytes).expect("a MIDI file");
    let part = file.right_hand(None, None, KeyNumber::MIDDLE_C).expect("a right hand");
    let line = file.timeline();
    let right = |message: &Message| match message {
        Message::On { key, .. } | Message::Off { key, .. } => *key >= KeyNumber::MIDDLE_C,
        Message::Control { .. } => true,
    };
    let mut blocks: Vec<_> = (0..=line.frame(file.end(), RATE) / i64::from(FRAMES))
        .map(|n| (line.transport_at(n * i64::from(FRAMES), RATE), vec![]))
        .collect();
    for (at, message) in file.messages(&part).into_iter().filter(|(_, message)| right(message)) {
        let frame = line.frame(at, RATE).max(0) as u64;
        let (block, frame) = (frame / u64::from(FRAMES), frame % u64::from(FRAMES));
        blocks[block as usize].1.push(Timed { frame: frame as u32, message });
    }
    blocks
}

fn main() {
    // Run as a test (without cargo's --bench), a little of it will do.
    let measured = std::env::args().any(|argument| argument == "--bench");
    let song = song(if measured { SONG } else { SONG / 20 });
    let blocks: Vec<_> =
        song.iter().enumerate().map(|(n, events)| block(n, true, events)).collect();
    worst("crowded", &blocks);
    let take = concat!(env!("CARGO_MANIFEST_DIR"), "/../presets/takes/slow-ferry.mid");
    let take = played(&std::env::var_os("SONG").map_or_else(|| take.into(), PathBuf::from));
    let blocks: Vec<_> = take
        .iter()
        .map(|(transport, events)| Block {
            frames: FRAMES,
            rate: RATE,
            transport: *transport,
            events,
        })
        .collect();
    worst("played", &blocks);
    let mut criterion = Criterion::default().configure_from_args();
    criterion.bench_function("process 64 frames, idle", |bencher| {
        let (mut engine, mut out) = (engine(), Counter::default());
        let still = block(0, false, &[]);
        bencher.iter(|| engine.process(black_box(&still), &mut out));
    });
    criterion.bench_function("process 64 frames, playing", |bencher| {
        let (mut engine, mut out) = (engine(), Counter::default());
        let mut n = 0;
        bencher.iter(|| {
            let block = block(n, true, &song[n % song.len()]);
            n += 1;
            engine.process(black_box(&block), &mut out);
        });
    });
    criterion.bench_function("a song of four minutes", |bencher| {
        bencher.iter(|| {
            let (mut engine, mut out) = (engine(), Counter::default());
            for (n, events) in song.iter().enumerate() {
                engine.process(&block(n, true, events), &mut out);
            }
            out.0
        });
    });
    criterion.final_summary();
}
