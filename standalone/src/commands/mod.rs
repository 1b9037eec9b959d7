//! The subcommands, a file each.

pub mod bridge;
pub mod foresee;
pub mod harmonise;
pub mod lessons;
mod lines;
pub mod manual;
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

/// The lines that a subcommand `answer`s to, or its fault.
#[cfg(test)]
pub fn told<A: clap::Args>(
    options: &[&str],
    answer: impl FnOnce(&A, &mut Vec<u8>) -> Result<(), Failure>,
) -> Result<Vec<String>, String> {
    use clap::Parser;

    #[derive(clap::Parser)]
    struct Options<A: clap::Args> {
        #[command(flatten)]
        args: A,
    }

    let given = Options::<A>::parse_from([&["sinistra"], options].concat());
    let mut output = Vec::new();
    answer(&given.args, &mut output).map_err(|failure| failure.to_string())?;
    Ok(String::from_utf8_lossy(&output).lines().map(str::to_owned).collect())
}
