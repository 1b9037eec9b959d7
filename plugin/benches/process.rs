//! `process` for 64 frames in a host, beside a plugin that only passes notes
//! on, in turns: median, 99.9th percentile and worst.
//!
//! `cargo build --release -p sinistra-plugin --examples` first, then
//! `cargo bench -p sinistra-plugin`.

#![allow(clippy::unwrap_used, clippy::panic)]

#[path = "../tests/clap_host/mod.rs"]
mod clap_host;

use std::time::Duration;

use clap_host::{Clock, Host, In};

const FRAMES: u32 = 64;
const RATE: f64 = 48_000.0;

/// A chord of four notes, changed every two beats at 120 to the minute.
fn events(block: u32) -> Vec<In> {
    const CHORDS: [[i16; 4]; 4] =
        [[60, 64, 67, 72], [65, 69, 72, 77], [67, 71, 74, 79], [69, 72, 76, 81]];
    // Two beats are 750 blocks.
    let (turn, within) = (block / 750, block % 750);
    let chord = CHORDS[(turn % 4) as usize];
    match within {
        0 => chord.iter().map(|key| In::on(0, *key)).collect(),
        700 => chord.iter().map(|key| In::off(32, *key)).collect(),
        _ => vec![],
    }
}

fn figures(name: &str, times: &mut [Duration]) {
    times.sort_unstable();
    let at = |part: f64| times[((times.len() - 1) as f64 * part) as usize].as_nanos();
    println!(
        "{name:16} median {:>6} ns   99.9 % {:>7} ns   worst {:>8} ns",
        at(0.5),
        at(0.999),
        at(1.0)
    );
}

fn main() {
    // Under `cargo test` a few blocks show that it runs.
    let blocks = if std::env::args().any(|a| a == "--bench") { 200_000 } else { 1_000 };
    let hosts = [Host::load_from("sinistra_plugin"), Host::load_from("pass_through")];
    let mut hosts = hosts.map(|mut host| {
        host.start(RATE, FRAMES);
        (host, Vec::with_capacity(blocks as usize))
    });
    let mut left_hand = 0;
    for block in 0..blocks {
        let events = events(block);
        let clock = Clock::at(f64::from(block * FRAMES) / (RATE / 2.0));
        for (n, (host, times)) in hosts.iter_mut().enumerate() {
            let (out, time) = host.timed_block(FRAMES, Some(clock), &events);
            times.push(time);
            if n == 0 {
                left_hand += out.len() - events.len();
            }
        }
    }
    assert!(left_hand > 0, "the left hand must have played");
    println!(
        "{blocks} blocks of {FRAMES} frames at {RATE} Hz, {left_hand} events of the left hand"
    );
    for (name, (_, times)) in ["Sinistra", "pass-through"].iter().zip(&mut hosts) {
        figures(name, times);
    }
}
