//! `sinistra foresee`: a chord a line in, a forecast a line out.

use crate::failure::Failure;

/// Say what comes next after each chord, a line each
#[derive(clap::Args)]
pub struct Args {}

/// Runs the command.
pub fn run(_args: Args) -> Result<(), Failure> {
    Err(Failure::Machine("not built yet".into()))
}
