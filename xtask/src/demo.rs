//! `cargo xtask demo`: the main job, played on a machine without a piano.

use std::path::Path;
use std::process::Command;

use crate::packages;
use crate::steps::{Done, binary, cargo, program, root, step, target};

/// The recorded right hand that gets its left hand.
const TAKE: &str = "presets/takes/slow-ferry.mid";

/// The chart that is played with both hands.
const CHART: &str = "presets/charts/lantern-street.txt";

/// The pattern for both: roots, fifths, thirds, octaves, leading notes.
const PATTERN: &str = "everything mixed";

/// Builds the program and plays, saying what it does and where the files are.
pub fn run() -> Done {
    packages::provide(packages::BUILD)?;
    step("Build", &mut cargo(&["build", "--release", "--package", "sinistra"]))?;
    // A folder of our own: what an earlier demo left there may go.
    let folder = target().join("demo");
    std::fs::create_dir_all(&folder).map_err(|e| format!("{}: {e}", folder.display()))?;

    let both = folder.join("slow-ferry with a left hand.mid");
    let report = folder.join("slow-ferry left hand.jsonl");
    say(&format!(
        "A recorded right hand, {TAKE}, gets its left hand. Nobody tells it the\n\
         chords: it hears them, and by the second and third phrase it knows what comes."
    ));
    let mut harmonise = sinistra();
    harmonise
        .args(["harmonise", TAKE, "--pattern", PATTERN, "--force", "--output"])
        .arg(&both)
        .arg("--report")
        .arg(&report);
    run_shown(&mut harmonise)?;

    say(&format!(
        "A chart, {CHART}, is played with both hands, and its left hand is printed\n\
         so that you can play it."
    ));
    let song = folder.join("lantern-street");
    let (midi, wav, sheet) =
        (song.with_extension("mid"), song.with_extension("wav"), song.with_extension("musicxml"));
    let mut perform = sinistra();
    perform.args(["perform", CHART, "--pattern", PATTERN, "--force", "--midi"]).arg(&midi);
    perform.arg("--wav").arg(&wav).arg("--sheet").arg(&sheet);
    run_shown(&mut perform)?;

    println!("\nIn {}:", folder.display());
    for (file, what) in [
        (&wav, "the chart as sound: turn the volume down first, then press play"),
        (&midi, "the same for any MIDI player"),
        (&sheet, "the same as a page for a notation program"),
        (&both, "the take with both hands, the right one untouched"),
        (&report, "a line a left-hand note: what, when, to which chord, and why"),
    ] {
        let bytes = std::fs::metadata(file).map_or(0, |about| about.len());
        if bytes == 0 {
            return Err(format!("{}: it should be there and is not", file.display()));
        }
        println!("  {:<34} {what}", name(file));
    }
    println!("\nThe program itself is {}.", binary("release").display());
    Ok(())
}

fn say(what: &str) {
    println!("\n{what}");
}

fn name(path: &Path) -> String {
    path.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned())
}

fn sinistra() -> Command {
    program(binary("release"))
}

/// Runs a command as a user would have typed it, and shows that.
fn run_shown(command: &mut Command) -> Done {
    let typed: Vec<String> = command
        .get_args()
        .map(|argument| {
            let argument = Path::new(argument);
            let short = argument.strip_prefix(root()).unwrap_or(argument).to_string_lossy();
            if short.contains(' ') { format!("\"{short}\"") } else { short.into_owned() }
        })
        .collect();
    println!("\n  sinistra {}\n", typed.join(" "));
    let status = command.status().map_err(|e| format!("the program does not start: {e}"))?;
    if status.success() { Ok(()) } else { Err(format!("the demo stopped ({status})")) }
}
