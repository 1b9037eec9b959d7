//! `sinistra bridge`: live, between keyboard and sound module.

use std::path::PathBuf;

use crate::bridge::{Action, How, Words, live, load};
use crate::failure::Failure;

/// Play live between a keyboard and a sound module
///
/// Everything that you play goes through at once and untouched; the left hand
/// is added. With nothing said, it hears every keyboard, plays to the first
/// sound module, and starts with your first chord.
#[derive(clap::Args)]
pub struct Args {
    #[command(flatten)]
    words: Words,
    /// A set-up file with the same words
    #[arg(long, value_name = "FILE.toml")]
    setup: Option<PathBuf>,
    /// Save what is said here, with what is learned, as a set-up file
    #[arg(long, value_name = "FILE.toml")]
    save: Option<PathBuf>,
    /// Replace the file of --save if it is there
    #[arg(long)]
    force: bool,
    /// The next control that you move does this; may be given again
    #[arg(long, value_name = "ACTION")]
    learn: Vec<Action>,
    /// List what is mapped, and what can be, then end
    #[arg(long)]
    list: bool,
    /// Show nothing
    #[arg(long)]
    quiet: bool,
    /// Show a line of JSON an event
    #[arg(long, conflicts_with = "quiet")]
    json: bool,
    /// Add what happens to a log file
    #[arg(long, value_name = "FILE")]
    log: Option<PathBuf>,
    /// End after so many seconds
    #[arg(long = "for", value_name = "SECONDS")]
    for_seconds: Option<f64>,
}

/// Runs the command.
pub fn run(args: Args) -> Result<(), Failure> {
    let file = args.setup.as_deref().map(load).transpose()?.unwrap_or_default();
    let words = args.words.over(file);
    if args.list {
        list(&words);
        return Ok(());
    }
    let how = How {
        loaded: args.setup,
        save: args.save,
        force: args.force,
        learn: args.learn,
        quiet: args.quiet,
        json: args.json,
        log: args.log,
        for_seconds: args.for_seconds,
    };
    live(words, how)
}

fn list(words: &Words) {
    println!("Mapped:");
    for mapping in &words.map {
        let through = if mapping.through { "" } else { " (not passed on)" };
        println!("  {:<24} {}{through}", mapping.trigger.to_string(), mapping.action.name());
    }
    if words.map.is_empty() {
        println!("  nothing yet; --learn ACTION maps the next control that you move");
    }
    println!("What a control can do:");
    for action in <Action as clap::ValueEnum>::value_variants() {
        println!("  {:<14} {}", action.name(), action.about());
    }
}
