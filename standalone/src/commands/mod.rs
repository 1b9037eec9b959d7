//! The subcommands, a file each.

pub mod bridge;
pub mod foresee;
pub mod harmonise;
pub mod name;
pub mod perform;
pub mod ports;
pub mod practise;

use crate::failure::Failure;
use clap::CommandFactory;

/// No subcommand: the window where there is a display, else the help.
pub fn no_command() -> Result<(), Failure> {
    if let Some(played) = bridge::at_home() {
        return played;
    }
    crate::Cli::command()
        .print_long_help()
        .map_err(|e| Failure::Machine(format!("cannot print the help: {e}")))
}
