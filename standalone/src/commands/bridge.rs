//! `sinistra bridge`: live, between keyboard and sound module.

use crate::failure::Failure;

/// Play live between a keyboard and a sound module
#[derive(clap::Args)]
pub struct Args {}

/// Runs the command.
pub fn run(_args: Args) -> Result<(), Failure> {
    Err(Failure::Machine("not built yet".into()))
}
