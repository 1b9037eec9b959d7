//! `sinistra manual`: the program describes itself, for packages; not in the help.

use std::path::PathBuf;

use clap_complete::Shell;

use crate::failure::Failure;

/// Writes man pages and completions for shells.
#[derive(clap::Args)]
pub struct ManualArgs {
    /// The folder that they go into; what is there is replaced
    folder: PathBuf,
}

/// A man page for the program and one for each subcommand; completions for bash,
/// zsh and fish.
///
/// # Errors
/// If the disk refuses.
pub fn run(args: &ManualArgs, command: clap::Command) -> Result<(), Failure> {
    let refused = |e: std::io::Error| Failure::Machine(format!("{}: {e}", args.folder.display()));
    let mut command = command.disable_help_subcommand(true);
    for shell in [Shell::Bash, Shell::Zsh, Shell::Fish] {
        clap_complete::generate_to(shell, &mut command, "sinistra", &args.folder)
            .map_err(refused)?;
    }
    clap_mangen::generate_to(command, &args.folder).map_err(refused)
}
