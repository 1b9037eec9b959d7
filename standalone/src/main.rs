//! The `sinistra` binary: one subcommand a file under `commands/`.

#[macro_use]
mod say;

mod bridge;
mod commands;
mod failure;
mod files;
mod interrupt;
mod options;
mod perform;
mod practice;
mod print;
mod quiet;
mod report;
mod scores;
mod sound;
mod window;

use std::process::ExitCode;

use clap::{Parser, Subcommand};

/// Plays the left hand to the chords that your right hand holds.
#[derive(Parser)]
#[command(name = "sinistra", version, about)]
struct Cli {
    #[command(subcommand)]
    command: Option<Command>,
}

#[derive(Subcommand)]
enum Command {
    Harmonise(commands::harmonise::Args),
    Perform(commands::perform::Args),
    Name(commands::name::Args),
    Foresee(commands::foresee::Args),
    Bridge(Box<commands::bridge::Args>),
    Ports(commands::ports::Args),
    Practise(commands::practise::Args),
}

fn main() -> ExitCode {
    let cli = Cli::parse();
    let result = match cli.command {
        Some(Command::Harmonise(args)) => commands::harmonise::run(args),
        Some(Command::Perform(args)) => commands::perform::run(args),
        Some(Command::Name(args)) => commands::name::run(args),
        Some(Command::Foresee(args)) => commands::foresee::run(args),
        Some(Command::Bridge(args)) => commands::bridge::run(*args),
        Some(Command::Ports(args)) => commands::ports::run(args),
        Some(Command::Practise(args)) => commands::practise::run(args),
        None => commands::no_command(),
    };
    match result {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            eprintln!("{failure}");
            failure.exit_code()
        }
    }
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory;

    #[test]
    fn no_two_options_share_a_name() {
        super::Cli::command().debug_assert();
    }
}
