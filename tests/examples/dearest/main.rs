//! What the dearest blocks cost in instructions: `cargo xtask dearest` plays the bench's
//! songs in all their modes, `cargo xtask dearest search [MINUTES [SEED]]` looks for a
//! right hand, a clock and a player's edits whose dearest block is dearer.
//!
//! Counted by valgrind's callgrind, which xtask starts it under: the same on a busy
//! machine and a quiet one. Of each song's blocks those that take longest are counted,
//! and what the dearest one spent where is kept for `callgrind_annotate`.

mod adversary;
mod count;

use std::process::ExitCode;

use count::CallgrindCounts;
use sinistra_tests::modes::{EngineMode, SONG};

/// Blocks of a song that are counted.
const COUNTED: usize = 300;

fn main() -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let number = |n: usize| words.get(n).and_then(|word| word.parse().ok());
    let Some(folder) = words.first() else {
        eprintln!("cargo xtask dearest [search [MINUTES [SEED]]] starts it under valgrind");
        return ExitCode::from(2);
    };
    let mut counts = CallgrindCounts::of_callgrind(folder.as_ref());
    match words.get(1).map(String::as_str) {
        Some("search") => adversary::search(&mut counts, number(2).unwrap_or(10), number(3)),
        only => songs(&mut counts, only),
    }
    ExitCode::SUCCESS
}

/// Each mode of the bench, or those alone that have `only` in their name.
fn songs(counts: &mut CallgrindCounts, only: Option<&str>) {
    let modes = [EngineMode::crowded(SONG)].into_iter().chain(EngineMode::all_of_a_song());
    for mode in modes.filter(|mode| only.is_none_or(|only| mode.name.contains(only))) {
        let mut counted = counts.dearest(&mode, COUNTED);
        counted.sort_unstable_by_key(|block| std::cmp::Reverse(block.instructions));
        let of = |n: usize| counted.get(n).map_or(0, |block| block.instructions);
        let (all, one_in_1000) = (mode.blocks(), mode.blocks() / 1000);
        println!(
            "{}: dearest {}, tenth {}, 99.9 % {} instructions ({all} blocks); the dearest:{}",
            mode.name,
            of(0),
            of(9),
            of(one_in_1000),
            counted
                .iter()
                .take(5)
                .fold(String::new(), |said, block| format!("{said} {}", block.number)),
        );
        if let Some(dearest) = counted.first() {
            counts.keep(&mode, dearest.number, &mode.name);
        }
    }
}
