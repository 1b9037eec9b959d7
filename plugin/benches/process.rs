//! `process` for 64 frames in a host, beside a plugin that only passes notes
//! on, in turns: median, 99.9th percentile and worst; of one run, and of each
//! block's shortest time in five runs of the same song, so that what the
//! system does meanwhile is not counted. And before that, memory and time of twenty
//! instances in one project.
//!
//! `cargo build --release -p sinistra-plugin --examples` first, then
//! `cargo bench -p sinistra-plugin`.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that fails panics")]

#[path = "../tests/clap_host/mod.rs"]
mod clap_host;
#[path = "../tests/vst3_host/mod.rs"]
mod vst3_host;

use std::time::{Duration, Instant};

use clap_host::play::resident;
use clap_host::{ClapHost, Clock, Event};
use vst3_host::Vst3Host;

const FRAMES: u32 = 64;
const RATE: f64 = 48_000.0;

/// A chord of four notes, changed every two beats at 120 to the minute.
fn events(block: u32) -> Vec<Event> {
    const CHORDS: [[i16; 4]; 4] =
        [[60, 64, 67, 72], [65, 69, 72, 77], [67, 71, 74, 79], [69, 72, 76, 81]];
    // Two beats are 750 blocks.
    let (turn, within) = (block / 750, block % 750);
    let chord = CHORDS[(turn % 4) as usize];
    match within {
        0 => chord.iter().map(|key| Event::on(0, *key)).collect(),
        700 => chord.iter().map(|key| Event::off(32, *key)).collect(),
        _ => vec![],
    }
}

/// The first block by itself: no memory is at hand yet.
fn figures(name: &str, times: &[Duration]) {
    let (first, mut times) = (times[0].as_nanos(), times[1..].to_vec());
    times.sort_unstable();
    let at = |part: f64| times[((times.len() - 1) as f64 * part) as usize].as_nanos();
    println!(
        "{name:16} median {:>6} ns   99.9 % {:>7} ns   worst {:>8} ns   the first {first:>8} ns",
        at(0.5),
        at(0.999),
        at(1.0)
    );
}

const PLUGINS: [(&str, &str); 2] =
    [("Sinistra", "sinistra_plugin"), ("pass-through", "pass_through")];

/// The song in both plugins, from their loading on: the time of each block, and
/// how many events the left hand played.
fn run(blocks: u32) -> ([Vec<Duration>; 2], usize) {
    let mut hosts = PLUGINS.map(|(_, file)| {
        let mut host = ClapHost::load_from(file);
        host.start(RATE, FRAMES);
        host
    });
    let mut times = [(); 2].map(|()| Vec::with_capacity(blocks as usize));
    let mut left_hand = 0;
    for block in 0..blocks {
        let events = events(block);
        let clock = Clock::at(f64::from(block * FRAMES) / (RATE / 2.0));
        for (n, (host, times)) in hosts.iter_mut().zip(&mut times).enumerate() {
            let (out, time) = host.timed_block(FRAMES, Some(clock), &events);
            times.push(time);
            if n == 0 {
                left_hand += out.len() - events.len();
            }
        }
    }
    (times, left_hand)
}

/// Instances of one project in VST3, each loaded and started; behind those in CLAP, so
/// that the patterns are compiled.
fn vst3_project(instances: u32) {
    let (factory, start) = (vst3_host::factory(), Instant::now());
    let hosts: Vec<_> = (0..instances)
        .map(|_| {
            let host = Vst3Host::made_by(&factory);
            host.start(RATE, FRAMES as i32);
            host
        })
        .collect();
    let each = start.elapsed().as_secs_f64() * 1000.0 / f64::from(instances);
    println!("{} instances in VST3: {each:.1} ms each", hosts.len());
}

/// Instances of one project, each loaded, started and played for a second.
fn project(instances: u32) {
    let (memory, start) = (resident(), Instant::now());
    let hosts: Vec<ClapHost> = (0..instances)
        .map(|_| {
            let mut host = ClapHost::load_from(PLUGINS[0].1);
            host.start(RATE, FRAMES);
            host
        })
        .collect();
    let loaded = start.elapsed();
    for block in 0..750 {
        let clock = Clock::at(f64::from(block * FRAMES) / (RATE / 2.0));
        for host in &hosts {
            host.block(FRAMES, Some(clock), &events(block));
        }
    }
    let each = f64::from(instances);
    println!(
        "{instances} instances: {:.1} MB and {:.1} ms each",
        (resident() - memory) / each,
        loaded.as_secs_f64() * 1000.0 / each
    );
}

fn main() {
    // Under `cargo test` a few blocks show that it runs.
    let measured = std::env::args().any(|a| a == "--bench");
    let (blocks, runs) = if measured { (200_000, 5) } else { (1_000, 1) };
    let instances = if measured { 20 } else { 2 };
    project(instances);
    vst3_project(instances);
    let (first, left_hand) = run(blocks);
    assert!(left_hand > 0, "the left hand must have played");
    println!(
        "{blocks} blocks of {FRAMES} frames at {RATE} Hz, {left_hand} events of the left hand"
    );
    let print = |times: &[Vec<Duration>; 2]| {
        PLUGINS.iter().zip(times).for_each(|((name, _), times)| figures(name, times));
    };
    print(&first);
    let mut shortest = first;
    for _ in 1..runs {
        let (again, _) = run(blocks);
        for (shortest, again) in shortest.iter_mut().flatten().zip(again.iter().flatten()) {
            *shortest = (*shortest).min(*again);
        }
    }
    println!("each block's shortest time of {runs} runs");
    print(&shortest);
}
