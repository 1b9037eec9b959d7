//! `cargo xtask races`: what threads share, without a lock, in every order that a
//! processor may see.

use std::process::Command;

use crate::steps::{Done, cargo, step, target};

/// Runs it.
///
/// # Errors
/// If an order breaks it.
pub fn run() -> Done {
    step("Races", loom().arg("races"))
}

/// Builds what [`run`] runs.
///
/// # Errors
/// If it does not build.
pub fn build() -> Done {
    step("Build the races", loom().arg("--no-run"))
}

fn loom() -> Command {
    let mut cargo = cargo(&["test", "--package", "sinistra-score", "--lib", "--target-dir"]);
    cargo.arg(target().join("loom")).env("RUSTFLAGS", "--cfg loom");
    // One test of a second: to build it is what takes time.
    cargo.env("CARGO_PROFILE_DEV_OPT_LEVEL", "0").env("CARGO_PROFILE_DEV_DEBUG", "false");
    cargo
}
