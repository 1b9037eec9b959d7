//! What a block costs: 64 frames at 48 kHz, idle and playing; the worst block
//! of a crowded song of four minutes, and of a played one: without a chart,
//! with one that is followed by the bars, by the hand, looking ahead, and where
//! the host loops; of the free hand and of a style, with pedal and all; the crowded song
//! from end to end; and what it costs to make the library's left hands ready, as every
//! plugin does when it is loaded.
//! `cargo bench --package sinistra-tests --bench engine`; the played song is
//! one of `tests/data`, or `SONG=FILE.mid` (which has no chart).

use std::hint::black_box;
use std::path::Path;
use std::time::{Duration, Instant};

use criterion::Criterion;
use sinistra_score::pattern::PatternPreset;
use sinistra_score::{PatternFile, pattern_presets};
use sinistra_tests::Counter;
use sinistra_tests::modes::{EngineMode, SONG, block, crowded, engine};

/// Each block's shortest time of several runs, so that what the system does
/// meanwhile is not counted; then the distribution over the song.
fn worst(mode: &EngineMode) {
    let mut times = vec![Duration::MAX; mode.blocks()];
    let mut sent = 0;
    for _ in 0..7 {
        sent = mode.play(|n, play| {
            let start = Instant::now();
            black_box(play)();
            times[n] = start.elapsed().min(times[n]);
        });
    }
    assert!(sent > 20, "the left hand played {sent} events");
    times.sort();
    let at = |part: f64| times[((times.len() - 1) as f64 * part) as usize];
    println!(
        "a block of the {}: median {:?}, 99.9 % {:?}, worst {:?} ({} blocks, {sent} events)",
        mode.name,
        at(0.5),
        at(0.999),
        at(1.0),
        times.len()
    );
}

fn main() {
    // Run as a test (without cargo's --bench), a little of it will do.
    let measured = std::env::args().any(|argument| argument == "--bench");
    let blocks = if measured { SONG } else { SONG / 20 };
    worst(&EngineMode::crowded(blocks));
    match std::env::var_os("SONG") {
        Some(path) => worst(&EngineMode::file(Path::new(&path))),
        None => EngineMode::all_of_a_song().iter().for_each(worst),
    }
    let song = crowded(blocks);
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
    criterion.bench_function("the library's left hands, compiled", |bencher| {
        let compile = |preset: &PatternPreset| PatternFile::compile(preset.slug, preset.text);
        bencher.iter(|| {
            pattern_presets().iter().filter(|preset| black_box(compile(preset)).is_ok()).count()
        });
    });
    criterion.bench_function("the library's left hands, for another instance", |bencher| {
        bencher.iter(|| {
            pattern_presets().iter().filter(|preset| black_box(preset.compile()).is_ok()).count()
        });
    });
    criterion.bench_function("the library's left hands, read for their names", |bencher| {
        bencher.iter(|| {
            pattern_presets().iter().filter(|preset| black_box(preset.read()).is_ok()).count()
        });
    });
    criterion.final_summary();
}
