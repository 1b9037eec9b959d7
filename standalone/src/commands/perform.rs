//! `sinistra perform`: a chart, played with both hands.

use crate::failure::Failure;

/// Play a chord chart with both hands
#[derive(clap::Args)]
pub struct Args {}

/// Runs the command.
pub fn run(_args: Args) -> Result<(), Failure> {
    Err(Failure::Machine("not built yet".into()))
}
