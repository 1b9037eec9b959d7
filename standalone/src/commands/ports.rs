//! `sinistra ports`: what is there.

use crate::failure::Failure;

/// List the MIDI ports
#[derive(clap::Args)]
pub struct Args {}

/// Runs the command.
pub fn run(_args: Args) -> Result<(), Failure> {
    Err(Failure::Machine("not built yet".into()))
}
