//! The `sinistra` program: one subcommand a file under `commands/`.

#[macro_use]
mod say;

mod bridge;
mod commands;
mod failure;
mod files;
#[doc(hidden)]
pub mod hostile;
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

use clap::{CommandFactory, FromArgMatches, Parser, Subcommand};

/// Plays the left hand to the chords that your right hand holds.
#[derive(Parser)]
#[command(name = "sinistra", version, about)]
struct Cli {
    #[command(subcommand)]
    command: Option<Subcommands>,
}

#[derive(Subcommand)]
enum Subcommands {
    Harmonise(commands::harmonise::HarmoniseArgs),
    Perform(commands::perform::PerformArgs),
    Name(commands::name::NameArgs),
    Foresee(commands::foresee::ForeseeArgs),
    Bridge(Box<commands::bridge::BridgeArgs>),
    Ports(commands::ports::PortsArgs),
    Practise(commands::practise::PractiseArgs),
    Lessons(commands::lessons::Args),
    #[command(hide = true)]
    Manual(commands::manual::ManualArgs),
}

/// The command line. `-5` behind an option is a number that may be out of its
/// range, not an option that nobody knows.
fn command_line() -> clap::Command {
    let takes_numbers = |arg: clap::Arg| match arg.get_action() {
        clap::ArgAction::Set | clap::ArgAction::Append if !arg.is_positional() => {
            arg.allow_negative_numbers(true)
        }
        _ => arg,
    };
    let mut command = Cli::command();
    let names: Vec<_> = command.get_subcommands().map(|sub| sub.get_name().to_owned()).collect();
    for name in names {
        command = command.mut_subcommand(name, |sub| sub.mut_args(takes_numbers));
    }
    command
}

/// What the command line asks for; 0 done, 1 the machine failed, 2 the input was wrong.
pub fn run() -> ExitCode {
    let matches = command_line().get_matches();
    let cli = Cli::from_arg_matches(&matches).unwrap_or_else(|error| error.exit());
    let result = match cli.command {
        Some(Subcommands::Harmonise(args)) => commands::harmonise::run(args),
        Some(Subcommands::Perform(args)) => commands::perform::run(args),
        Some(Subcommands::Name(args)) => commands::name::run(args),
        Some(Subcommands::Foresee(args)) => commands::foresee::run(args),
        Some(Subcommands::Bridge(args)) => commands::bridge::run(*args),
        Some(Subcommands::Ports(args)) => commands::ports::run(args),
        Some(Subcommands::Practise(args)) => commands::practise::run(args),
        Some(Subcommands::Lessons(args)) => commands::lessons::run(args),
        Some(Subcommands::Manual(args)) => commands::manual::run(&args, command_line()),
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
    #[test]
    fn no_two_options_share_a_name() {
        super::command_line().debug_assert();
    }

    #[test]
    fn a_number_below_its_range_is_told_the_range() {
        for words in ["perform x --busy -5", "practise x --swing -1", "bridge --count-in -1"] {
            let words = std::iter::once("sinistra").chain(words.split(' '));
            let told = super::command_line().try_get_matches_from(words).map(|_| ());
            let told = told.map_or_else(|error| error.to_string(), |()| "accepted".to_owned());
            assert!(told.contains("is meant") || told.contains("is not in"), "{told}");
        }
        // And one in its range is taken.
        let words = ["sinistra", "practise", "x", "--delay", "-20"];
        assert!(super::command_line().try_get_matches_from(words).is_ok());
    }
}
