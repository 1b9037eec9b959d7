//! `sinistra practise`: hear it, play it, know what was late.

use crate::failure::Failure;

/// Practise a left hand: hear it, play it, know what was late
#[derive(clap::Args)]
pub struct Args {}

/// Runs the command.
pub fn run(_args: Args) -> Result<(), Failure> {
    Err(Failure::Machine("not built yet".into()))
}
