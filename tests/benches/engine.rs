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
use sinistra_core::engine::{Block, Engine, Message, Settings, Timed, Transport};
use sinistra_core::pitch::KeyNumber;
use sinistra_core::time::{Metre, Ticks};
use sinistra_score::pattern::PatternPreset;
use sinistra_score::{MidiFile, PatternFile, Timeline, pattern_presets};
use sinistra_tests::crowd::Crowd;
use sinistra_tests::songs::{LabelledSong, is_right, on_the_grid};
use sinistra_tests::{Counter, pattern};

const FRAMES: u32 = 64;
const RATE: f64 = 48_000.0;
const TEMPO: f64 = 120.0;
/// Four minutes.
const SONG: usize = 4 * 60 * 48_000 / 64;

fn engine() -> Engine {
    Engine::new(Settings::default(), pattern(Some("everything-mixed")))
}

/// A hand that improvises, with pedal and a loose touch.
fn improvising(slug: &str) -> Engine {
    let settings = Settings { pedal: true, loose: 0.5, ..Settings::default() };
    Engine::new(settings, pattern(Some(slug)))
}

fn block(n: usize, playing: bool, events: &[Timed]) -> Block<'_> {
    let beat = n as f64 * f64::from(FRAMES) * TEMPO / (60.0 * RATE);
    let transport = Transport { playing, ..Transport::moving(beat, TEMPO, Metre::COMMON) };
    Block { frames: FRAMES, rate: RATE, transport, events }
}

/// The crowded song, cut into blocks.
fn song(blocks: usize) -> Vec<Vec<Timed>> {
    let mut crowd = Crowd::new(11);
    (0..blocks).map(|_| crowd.block(FRAMES)).collect()
}

/// Each block's shortest time of several runs, so that what the system does
/// meanwhile is not counted; then the distribution over the song.
fn worst(name: &str, blocks: &[Block<'_>], engine: impl Fn() -> Engine) {
    let mut times = vec![Duration::MAX; blocks.len()];
    let mut sent = 0;
    for _ in 0..7 {
        let (mut engine, mut out) = (engine(), Counter::default());
        let span = engine.ahead().map(Ticks::beats);
        let mut later = blocks.iter().peekable();
        for (block, time) in blocks.iter().zip(&mut times) {
            // What a home hears ahead belongs to the block; but for the first
            // it has heard the whole span before.
            let until = block.transport.beat + span.unwrap_or(0.0);
            let unheard = |later: &&Block<'_>| span.is_some() && later.transport.beat < until;
            if block.transport.beat <= 0.0 {
                std::iter::from_fn(|| later.next_if(unheard)).for_each(|b| engine.hear_ahead(b));
            }
            let start = Instant::now();
            while let Some(later) = later.next_if(unheard) {
                engine.hear_ahead(black_box(later));
            }
            engine.process(black_box(block), &mut out);
            *time = start.elapsed().min(*time);
        }
        sent = out.0;
    }
    assert!(sent > 20, "the left hand played {sent} events");
    times.sort();
    let at = |part: f64| times[((times.len() - 1) as f64 * part) as usize];
    println!(
        "a block of the {name}: median {:?}, 99.9 % {:?}, worst {:?} ({} blocks, {sent} events)",
        at(0.5),
        at(0.999),
        at(1.0),
        times.len()
    );
}

/// The right hand of a song, cut into blocks: the clock and the events of each.
type PlayedBlocks = Vec<(Transport, Vec<Timed>)>;

fn played(line: &Timeline, events: &[(i64, Message)], end: i64) -> PlayedBlocks {
    let mut blocks: Vec<_> = (0..=end / i64::from(FRAMES))
        .map(|n| (line.transport_at(n * i64::from(FRAMES), RATE), vec![]))
        .collect();
    for &(frame, message) in events {
        let frame = frame.max(0) as u64;
        let (block, frame) = (frame / u64::from(FRAMES), frame % u64::from(FRAMES));
        if let Some((_, events)) = blocks.get_mut(block as usize) {
            events.push(Timed { frame: frame as u32, message });
        }
    }
    blocks
}

fn file(path: &Path) -> PlayedBlocks {
    let bytes = std::fs::read(path).expect("a file");
    let file = MidiFile::read(&path.to_string_lossy(), &bytes).expect("a MIDI file");
    let part = file.right_hand(None, None, KeyNumber::MIDDLE_C).expect("a right hand");
    let line = file.timeline();
    let events = file.messages(&part).into_iter().map(|(at, m)| (line.frame(at, RATE), m));
    let events: Vec<_> = events.filter(|(_, message)| is_right(*message)).collect();
    played(line, &events, line.frame(file.end(), RATE))
}

fn blocks(played: &PlayedBlocks) -> Vec<Block<'_>> {
    let mut blocks = Vec::with_capacity(played.len());
    for (transport, events) in played {
        blocks.push(Block { frames: FRAMES, rate: RATE, transport: *transport, events });
    }
    blocks
}

/// The same music, where the host goes back to the start of each eight bars
/// once: the clock jumps, the hand plays on.
fn looped(played: &PlayedBlocks) -> PlayedBlocks {
    let eight = |transport: &Transport| (transport.beat / 32.0).floor();
    let mut again = PlayedBlocks::new();
    for part in played.chunk_by(|a, b| eight(&a.0) == eight(&b.0)) {
        again.extend_from_slice(part);
        again.extend_from_slice(part);
    }
    again
}

/// The ways in which the same song can be played to.
fn variants(song: &LabelledSong) {
    let played = played(&song.timeline, &song.right_hand(), song.end);
    let charted = || {
        let mut engine = engine();
        drop(engine.swap_song(song.chart().map(Box::new)));
        engine
    };
    worst("played song", &blocks(&played), engine);
    worst("played song with its chart", &blocks(&played), charted);
    worst("played song with its chart by the hand", &blocks(&played), || {
        let mut engine = charted();
        engine.follow_hand(true);
        engine
    });
    worst("played song, looking ahead", &blocks(&played), || {
        let mut engine = engine();
        engine.look_ahead(Ticks(2 * Ticks::PER_BEAT));
        engine
    });
    worst("played song, each eight bars twice", &blocks(&looped(&played)), engine);
    for slug in ["free-hand", "style-jazz"] {
        let free = || improvising(slug);
        worst(&format!("played song, {slug}"), &blocks(&played), free);
        worst(&format!("played song, {slug}, with its chart"), &blocks(&played), || {
            let mut engine = free();
            drop(engine.swap_song(song.chart().map(Box::new)));
            engine
        });
    }
}

fn main() {
    // Run as a test (without cargo's --bench), a little of it will do.
    let measured = std::env::args().any(|argument| argument == "--bench");
    let song = song(if measured { SONG } else { SONG / 20 });
    let crowded: Vec<_> =
        song.iter().enumerate().map(|(n, events)| block(n, true, events)).collect();
    worst("crowded song", &crowded, engine);
    match std::env::var_os("SONG") {
        Some(path) => worst("song", &blocks(&file(Path::new(&path))), engine),
        None => {
            let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("data");
            let songs = on_the_grid(&data);
            let longest = songs.iter().max_by_key(|song| song.end).expect("a song");
            variants(longest);
        }
    }
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
