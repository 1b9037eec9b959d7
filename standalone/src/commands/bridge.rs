//! `sinistra bridge`: live, between keyboard and sound module.

use std::path::PathBuf;

use crate::bridge::{
    Action, How, Last, Opening, SetupWords, SystemName, TERMINAL_KEYS, choose, in_window, live,
    live_in_window, load, ports_of,
};
use crate::failure::Failure;
use crate::quiet::hushed;
use crate::sound::Timbre;
use crate::window;

/// Play live between a keyboard and a sound module
///
/// Everything that you play goes through at once and untouched; the left hand
/// is added. With nothing said, it hears every keyboard, plays to the first
/// sound module, and starts with your first chord.
#[derive(clap::Args)]
#[command(after_help = format!("Keys in the terminal: {TERMINAL_KEYS}"))]
pub struct BridgeArgs {
    #[command(flatten)]
    words: SetupWords,
    /// A set-up file with the same words
    #[arg(long, value_name = "FILE.toml")]
    setup: Option<PathBuf>,
    #[command(flatten)]
    how: How,
    /// List what is mapped, and what can be, then end
    #[arg(long)]
    list: bool,
    /// Go on with the set, the song and the ports of the last time (a window does
    /// so by itself)
    #[arg(long, conflicts_with = "setup")]
    last: bool,
}

/// Runs the command.
pub fn run(args: BridgeArgs) -> Result<(), Failure> {
    // Without a set-up file a window goes on where it was left.
    let goes_on = args.last || args.how.window && args.setup.is_none();
    let last = goes_on.then(Last::read).flatten().unwrap_or_default();
    let setup = args.setup.or_else(|| last.setup.clone());
    let said = args.words.over(last.words());
    let file = setup.as_deref().map(load).transpose()?.unwrap_or_default();
    let words = said.clone().over(file);
    if args.list {
        list(&words);
        return Ok(());
    }
    let keeps_last = args.last || args.how.window;
    let timbre = Timbre::from_option(words.soundfont.as_deref())?;
    let how = How { loaded: setup, said, timbre, song: last.song, keeps_last, ..args.how };
    if how.window { live_in_window(words, how) } else { live(words, how) }
}

/// No subcommand: the bridge with its window. It hears every keyboard, and
/// plays to the first sound module. `None` where no window opens; a display
/// that shows none is told of.
pub fn at_home() -> Option<Result<(), Failure>> {
    if !window::may_be_shown() {
        return None;
    }
    let last = Last::read().unwrap_or_default();
    let said = last.words();
    let file = match last.setup.as_deref().map(load).transpose() {
        Ok(file) => file.unwrap_or_default(),
        Err(fault) => return Some(Err(fault)),
    };
    let words = said.clone().over(file);
    let timbre = match Timbre::from_option(words.soundfont.as_deref()) {
        Ok(timbre) => timbre,
        Err(fault) => return Some(Err(fault)),
    };
    let how = How {
        window: true,
        loaded: last.setup,
        said,
        timbre,
        song: last.song,
        keeps_last: true,
        ..How::default()
    };
    // With no sound module, the piano that ships, if there are speakers.
    let has_module = ports_of(SystemName::Auto)
        .is_ok_and(|(ins, outs)| !choose(&ins, &outs, &[], &[]).to.is_empty());
    let sound = words.sound || !has_module && speakers_are_there();
    match in_window(&SetupWords { sound, ..words }, &how) {
        Ok(Opening::Ended(result)) => Some(result),
        Ok(Opening::No(why, _)) => {
            eprintln!("no window opens on this display ({why}); here is the help");
            None
        }
        Err(failure) => Some(Err(failure)),
    }
}

fn speakers_are_there() -> bool {
    use cpal::traits::HostTrait;
    hushed(|| cpal::default_host().default_output_device().is_some())
}

fn list(words: &SetupWords) {
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
