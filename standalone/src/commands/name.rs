//! `sinistra name`: a chord a line in, a name a line out.

use crate::failure::Failure;

/// Name chords, a line each
#[derive(clap::Args)]
pub struct Args {}

/// Runs the command.
pub fn run(_args: Args) -> Result<(), Failure> {
    Err(Failure::Machine("not built yet".into()))
}
