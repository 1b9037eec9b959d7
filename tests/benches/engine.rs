//! What a block costs: 64 frames at 48 kHz, idle and playing; the worst block
//! of a crowded song of four minutes; and that song from end to end.
//! `cargo bench --package sinistra-tests --bench engine`.

use std::hint::black_box;
use std::time::{Duration, Instant};

use criterion::Criterion;
use sinistra_core::engine::{Block, Engine, Output, Settings, Timed, Transport};
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
fn worst(song: &[Vec<Timed>]) {
    let mut times = vec![Duration::MAX; song.len()];
    let mut sent = 0;
    for _ in 0..7 {
        let (mut engine, mut out) = (engine(), Counter::default());
        for (n, (events, time)) in song.iter().zip(&mut times).enumerate() {
            let block = block(n, true, events);
            let start = Instant::now();
            engine.process(black_box(&block), &mut out);
            *time = start.elapsed().min(*time);
        }
        sent = out.0;
    }
    assert!(sent > 20, "the left hand played {sent} events");
    times.sort();
    let at = |part: f64| times[((times.len() - 1) as f64 * part) as usize];
    println!(
        "a block of the song: median {:?}, 99.9 % {:?}, worst {:?} ({} blocks, {sent} events)",
        at(0.5),
        at(0.999),
        at(1.0),
        times.len()
    );
}

fn main() {
    // Run as a test (without cargo's --bench), a little of it will do.
    let measured = std::env::args().any(|argument| argument == "--bench");
    let song = song(if measured { SONG } else { SONG / 20 });
    worst(&song);
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
