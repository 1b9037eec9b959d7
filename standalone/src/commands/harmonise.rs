//! `sinistra harmonise`: a recorded right hand becomes two hands.

use crate::failure::Failure;

/// Add a left hand to a MIDI file that holds a right hand
#[derive(clap::Args)]
pub struct Args {}

/// Runs the command.
pub fn run(_args: Args) -> Result<(), Failure> {
    Err(Failure::Machine("not built yet".into()))
}
