//! What is heard, foreseen and played does not change unasked.
//!
//! The weights were learned from what the ear looks at: a feature that is reckoned
//! otherwise than in learning makes them worth less, in a way that no example shows.
//! So five songs of open data (`tests/data`) are played to in many ways, and what comes
//! of it is compared with the kept copy beside this file: a line a bar says what is heard,
//! what is foreseen and what is struck in it, and a checksum stands for all the rest.
//!
//! A change that is meant: delete the copy, run the test, which writes it anew, and read
//! the difference. It is the same on every processor (seen on x86-64, and on AArch64 as
//! QEMU has it).

#![allow(clippy::panic, reason = "a test fails by it")]

mod beat;
mod checksum;
mod long;
mod metres;
mod naming;
mod restless;
mod scene;
mod song;
mod symbols;
mod ways;

use std::fs;
use std::path::Path;

/// Compares with the kept copy of that name; writes it if there is none, and fails.
fn unchanged(name: &str, now: &str) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/unchanged").join(name);
    let Ok(kept) = fs::read_to_string(&path) else {
        fs::write(&path, now).expect("a folder to write to");
        panic!("{name} was not there and is written anew: read it, and run the test again");
    };
    let differs = kept.lines().zip(now.lines()).find(|(kept, now)| kept != now);
    if let Some((kept, now)) = differs {
        panic!("{name}: it was\n{kept}\nand is\n{now}");
    }
    assert_eq!(kept.lines().count(), now.lines().count(), "{name}: bars");
}
