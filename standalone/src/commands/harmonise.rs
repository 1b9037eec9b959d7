//! `sinistra harmonise`: a recorded right hand becomes two hands.

use std::path::PathBuf;

use sinistra_core::chord::Chord;
use sinistra_core::engine::{Engine, Message};
use sinistra_core::key::Key;
use sinistra_core::pitch::KeyNumber;
use sinistra_core::time::{Metre, Ticks};
use sinistra_score::midi_file::HandTrack;
use sinistra_score::{Chart, Cut, MidiFile, TwoHands, two_hands, wording};

use crate::failure::Failure;
use crate::files;
use crate::options::{self, HandOptions, metre};
use crate::report;
use crate::scores;

/// Add a left hand to a MIDI file that holds a right hand
#[derive(clap::Args)]
pub struct HarmoniseArgs {
    /// The Standard MIDI File with the right hand
    input: PathBuf,
    /// Where the two hands go: the input's tracks, and a track more
    #[arg(short, long, value_name = "OUT.mid")]
    output: PathBuf,
    /// The track of the right hand, from 1
    #[arg(long, value_name = "N", value_parser = options::whole::<usize>(1, 65_535))]
    track: Option<usize>,
    /// The channel of the right hand, 1 to 16
    #[arg(long, value_name = "N", value_parser = options::whole::<u8>(1, 16))]
    channel: Option<u8>,
    /// Leave out the file's own left hand: what is below the split on the right hand's
    /// track, and tracks named for the left hand
    #[arg(long)]
    right_only: bool,
    /// What the left hand plays: a pattern file, or the name of one that ships; several
    /// with commas, such as stride,walking-bass, are a style that the free hand draws from
    #[arg(long, value_name = "P", default_value = scores::USUAL_PATTERN)]
    pattern: String,
    /// The song's chart, which then says what comes next
    #[arg(long, value_name = "C")]
    chart: Option<String>,
    #[command(flatten)]
    hand: HandOptions,
    /// Hear the right hand this many quarter notes before it sounds
    #[arg(long, value_name = "BEATS", 
          value_parser = options::decimal(0.0, 16.0, "quarter notes"))]
    look_ahead: Option<f64>,
    /// The file has no grid: find the beat in what is played, as on stage; the
    /// first stroke is the first beat of a bar
    #[arg(long)]
    by_playing: bool,
    /// With --by-playing: the tempo to expect, quarter notes a minute
    #[arg(long, value_name = "20..400", default_value_t = 100.0, requires = "by_playing",
          value_parser = options::tempo)]
    tempo: f64,
    /// With --by-playing: the metre
    #[arg(long, value_name = "N/N", default_value = "4/4", requires = "by_playing",
          value_parser = metre)]
    metre: Metre,
    /// Samples in a block; it never changes the music
    #[arg(long, value_name = "SAMPLES", default_value_t = 1024,
          value_parser = options::whole::<u32>(1, 65_536))]
    block: u32,
    /// Samples a second
    #[arg(long, value_name = "HZ", default_value_t = 48_000,
          value_parser = options::whole::<u32>(8_000, 768_000))]
    rate: u32,
    /// Write a line a left-hand note: what, when, to which chord, and why
    #[arg(long, value_name = "R.jsonl")]
    report: Option<PathBuf>,
    /// Write the chords that were heard as a chart, which loads again
    #[arg(long, value_name = "F.txt")]
    write_chart: Option<PathBuf>,
    /// Replace the files to be written if they are there
    #[arg(long)]
    force: bool,
}

/// Runs the command.
pub fn run(args: HarmoniseArgs) -> Result<(), Failure> {
    let chart = args.chart.as_deref().map(scores::chart).transpose()?;
    let settings = args.hand.settings(chart.as_ref())?;
    let bytes = files::read(&args.input)?;
    let more = args.report.iter().chain(&args.write_chart);
    let written = std::iter::once(&args.output).chain(more);
    files::may_write_all(written.map(PathBuf::as_path), args.force)?;
    let pattern = scores::pattern(&args.pattern)?;
    let name = args.input.display().to_string();
    let file = MidiFile::read(&name, &bytes).map_err(|e| Failure::Input(e.to_string()))?;
    let part = file
        .right_hand(args.track, args.channel, args.hand.split)
        .map_err(|e| Failure::Input(e.of_file(&name).to_string()))?;
    let played = args.by_playing.then(|| file.by_playing(&part, args.tempo, args.metre)).flatten();
    let file = match &played {
        Some(bytes) => MidiFile::read(&name, bytes).map_err(|e| Failure::Input(e.to_string()))?,
        None => file,
    };
    let alone = args.right_only.then(|| file.without_left_hand(&part, args.hand.split));
    let file = match &alone {
        Some(bytes) => MidiFile::read(&name, bytes).map_err(|e| Failure::Input(e.to_string()))?,
        None => file,
    };
    let messages = file.messages(&part);

    let fitted = wording::fitted(&pattern, file.timeline().metres().map(|place| place.metre));
    let mut engine = Engine::new(settings, pattern);
    let song = chart.map(|chart| chart.unfold());
    engine.look_ahead(Ticks::nearest(args.look_ahead.unwrap_or(0.0)));
    let cut = Cut { rate: f64::from(args.rate), block: args.block };
    let TwoHands { notes, chords, track } = two_hands(&mut engine, &file, &messages, song, cut);
    let chart = match &args.write_chart {
        Some(path) => Some((path, captured(&args, &file, &chords)?)),
        None => None,
    };
    files::write(&args.output, &file.with_track("Left hand", &track), args.force)?;
    if let Some(path) = &args.report {
        let lines = report::lines(&notes, &file, f64::from(args.rate));
        files::write(path, lines.as_bytes(), args.force)?;
    }
    if let Some((path, chart)) = chart {
        files::write(path, chart.to_string().as_bytes(), args.force)?;
    }
    println!("{}: {} notes for the left hand", args.output.display(), notes.len());
    if let Some(fitted) = fitted {
        println!("{fitted}");
    }
    if let Some(guess) = guess(&file, &part).filter(|_| (args.track, args.channel) == (None, None))
    {
        println!("{guess}");
    }
    if notes.is_empty() {
        let heard = chords.iter().any(|(_, chord)| chord.is_some());
        println!("{}", why_silent(&messages, args.hand.split, heard));
    }
    Ok(())
}

/// Which of several parts was taken for the right hand.
fn guess(file: &MidiFile<'_>, part: &HandTrack) -> Option<String> {
    let everything = HandTrack { track: None, channel: None, drums: false };
    let parts = file.tracks().iter().flat_map(|track| (0..).zip(track.notes));
    let played = parts.filter(|(channel, notes)| everything.has(0, *channel) && *notes > 0);
    let index = part.track.filter(|_| played.count() > 1)?;
    let name = file.tracks().get(index)?.name.as_deref().unwrap_or("without a name");
    let channel = part.channel.map_or(String::new(), |c| format!(" on channel {}", c + 1));
    Some(format!(
        "the right hand is track {} ({name}){channel}; --track and --channel take another",
        index + 1
    ))
}

/// What a player can do where the left hand has nothing to play; whether a chord was heard.
fn why_silent(heard: &[(Ticks, Message)], split: KeyNumber, chords: bool) -> String {
    let struck = |hand: fn(&KeyNumber, &KeyNumber) -> bool| {
        heard.iter().any(|(_, m)| matches!(m, Message::On { key, .. } if hand(key, &split)))
    };
    let name = wording::plain_note(split, Key::C_MAJOR);
    if !struck(KeyNumber::ge) {
        format!("hint: no key at {name} or above is played; --split names the right hand's lowest")
    } else if struck(KeyNumber::lt) {
        format!(
            "hint: the file's own left hand plays below {name}, and ours rests while it does; \
             --right-only leaves it out"
        )
    } else if chords {
        "hint: the file's own left hand plays all of it already; --right-only leaves it out"
            .to_owned()
    } else {
        "hint: no chord is heard in it".to_owned()
    }
}

/// The chords that were heard, as a chart in the file's bars.
fn captured(
    args: &HarmoniseArgs,
    file: &MidiFile<'_>,
    chords: &[(Ticks, Option<Chord>)],
) -> Result<Chart, Failure> {
    let timeline = file.timeline();
    let title = args.input.file_stem().unwrap_or_default().to_string_lossy();
    // As the file's signature has it, or the player: six sharps are not six flats.
    let key = args.hand.key.named().or_else(|| file.keys().first().map(|(_, key)| *key));
    let pulse = timeline.place(Ticks::ZERO).metre.pulse();
    // The file counts microseconds a quarter: 76 a minute comes back as 75.99997.
    let tempo = (timeline.tempo(Ticks::ZERO) / pulse.beats() * 100.0).round() / 100.0;
    let place = |at| timeline.place(at);
    Chart::captured(&title, key, Some(tempo), chords, file.end(), place).ok_or_else(|| {
        let name = args.input.display();
        Failure::Input(format!("{name}: no chord was heard, so there is no chart to write"))
    })
}
