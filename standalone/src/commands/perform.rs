//! `sinistra perform`: a chart, played with both hands.

use std::path::PathBuf;

use sinistra_core::engine::{KeyChoice, Settings};
use sinistra_core::key::WrittenKey;
use sinistra_score::chart::key_name;
use sinistra_score::{Chart, Performance};

use crate::failure::Failure;
use crate::files;
use crate::options;
use crate::perform::grid::{self, Paint};
use crate::perform::outputs::{self, Hands};
use crate::practice::sheets::{self, Set};
use crate::print;
use crate::scores;
use crate::sound::{Instrument, Timbre, play_aloud, write_wav};

/// Samples a second in sound files.
const RATE: u32 = 48_000;

/// Felt beats a minute where neither the chart nor the player names a tempo:
/// a walking pace.
const USUAL_TEMPO: f64 = 92.0;

/// Play a chord chart with both hands
#[derive(clap::Args)]
pub struct Args {
    /// A chart: a text or MusicXML file (.musicxml, .mxl), or one that ships
    chart: String,
    /// What the left hand plays: a pattern file, or the name of one that ships
    #[arg(long, value_name = "P", default_value = scores::USUAL_PATTERN)]
    pattern: String,
    /// Play it in this key, such as Bb or F#m
    #[arg(long, value_name = "K", value_parser = options::written_key)]
    key: Option<WrittenKey>,
    /// Felt beats a minute: quarters in 4/4, dotted quarters in 6/8
    #[arg(long, value_name = "N", value_parser = tempo)]
    tempo: Option<f64>,
    /// Play it this many times over
    #[arg(long, value_name = "N", default_value_t = 1,
          value_parser = clap::value_parser!(u16).range(1..=999))]
    repeat: u16,
    /// Which hands are heard
    #[arg(long, value_enum, default_value_t = Hands::Both)]
    hands: Hands,
    /// Write a MIDI file
    #[arg(long, value_name = "F.mid")]
    midi: Option<PathBuf>,
    /// Write a sound file
    #[arg(long, value_name = "F.wav")]
    wav: Option<PathBuf>,
    /// Write the notes of both hands, a sheet to practise from: MusicXML, or
    /// pages to look at and print where the name ends in .svg
    #[arg(long, value_name = "F.musicxml|F.svg")]
    sheet: Option<PathBuf>,
    /// Write a sheet and a MIDI file for every key into the folder that --sheet names
    #[arg(long, requires = "sheet", conflicts_with_all = ["key", "midi", "wav"])]
    all_keys: bool,
    /// Play it on this SoundFont 2 file instead of the piano
    #[arg(long, value_name = "F.sf2")]
    soundfont: Option<PathBuf>,
    /// Sparing 0 to 100 busy; 50 is the pattern as written
    #[arg(long, value_name = "0..100", default_value_t = 50,
          value_parser = clap::value_parser!(u8).range(0..=100))]
    busy: u8,
    /// Where the "and" falls, in percent: 50 straight, 67 triplets [default: the chart's]
    #[arg(long, value_name = "50..75", value_parser = clap::value_parser!(u8).range(50..=75))]
    swing: Option<u8>,
    /// Chooses among variations; the same number plays the same
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
    /// Replace files that are there
    #[arg(long)]
    force: bool,
}

/// Runs the command.
pub fn run(args: Args) -> Result<(), Failure> {
    let sheet = args.sheet.as_ref().filter(|_| !args.all_keys);
    sheet.map_or(Ok(()), |path| print::may_be_sheet(path))?;
    let written = [args.midi.as_ref(), args.wav.as_ref(), sheet].into_iter().flatten();
    files::may_write_all(written.map(PathBuf::as_path), args.force)?;
    // A SoundFont that is none is told before the first of several files.
    let timbre = Timbre::from_option(args.soundfont.as_deref());
    let instrument = args.wav.is_some().then(|| timbre.open(RATE)).transpose()?;
    let chart = in_key(scores::chart(&args.chart)?, args.key)?;
    let pattern = scores::pattern(&args.pattern)?;
    let pattern_name = pattern.name.clone();
    let swing = f32::from(args.swing.or(chart.draft().swing).unwrap_or(50)) / 100.0;
    let settings = Settings {
        busy: args.busy,
        swing,
        seed: args.seed,
        key: KeyChoice::Fixed(chart.draft().key.unwrap_or_else(|| chart.likeliest_key())),
        ..Settings::default()
    };
    let tempo = args.tempo.or(chart.draft().tempo).unwrap_or(USUAL_TEMPO);
    let set = Set {
        chart: &chart,
        pattern: &args.pattern,
        settings,
        tempo: chart.quarters(tempo),
        force: args.force,
    };
    if let Some(folder) = args.sheet.as_ref().filter(|_| args.all_keys) {
        let files = sheets::all_keys(&set, folder)?;
        println!("wrote {files} files into {}", folder.display());
        return Ok(());
    }
    let mut song = chart.unfold_times(args.repeat);
    song.tempo = Some(chart.quarters(tempo));
    let performance = Performance::of(song, chart.quarters(tempo), pattern, settings);

    println!("{}\n", grid::head(&chart, &performance, &pattern_name));
    print!("{}", grid::grid(&chart, &performance, swing, Paint::of_terminal()));
    println!("{}", grid::legend(&performance));
    if let Some(path) = sheet {
        for path in print::sheet(&sheets::sheet(&set)?, path, args.force)? {
            println!("wrote {}", path.display());
        }
    }
    give(&args, &chart, &performance, (timbre, instrument))
}

/// The chart in the key that the player asks for.
fn in_key(chart: Chart, key: Option<WrittenKey>) -> Result<Chart, Failure> {
    let Some(to) = key else { return Ok(chart) };
    chart.transpose(to).ok_or_else(|| {
        let from = chart.written_key();
        Failure::Input(format!(
            "--key {}: the chart is in {}, and major does not become minor by transposing\n\
             hint: name a {} key",
            key_name(to),
            key_name(from),
            if key_name(from).ends_with('m') { "minor" } else { "major" },
        ))
    })
}

/// Writes what is asked for; without that, plays it, or writes what it can.
fn give(
    args: &Args,
    chart: &Chart,
    performance: &Performance,
    (timbre, instrument): (Timbre, Option<Box<dyn Instrument>>),
) -> Result<(), Failure> {
    let midi = || outputs::midi(chart, performance, args.hands);
    let cues = || outputs::cues(performance, args.hands);
    if let Some(path) = &args.midi {
        files::write(path, &midi(), args.force)?;
        println!("wrote {}", path.display());
    }
    if let Some((path, instrument)) = args.wav.as_ref().zip(instrument) {
        let levels = write_wav(path, &cues(), instrument, args.force)?;
        println!("wrote {} ({:.0} s)", path.display(), levels.seconds);
    }
    if args.midi.is_some() || args.wav.is_some() || args.sheet.is_some() {
        return Ok(());
    }
    println!("playing; Ctrl-C stops");
    match play_aloud(&cues(), &timbre, |_| !crate::interrupt::asked_to_stop()) {
        Err(Failure::Machine(why)) => {
            let names = outputs::free_names(chart.title(), &["mid", "wav"]);
            println!("no sound here ({why}); writing files instead");
            if let [mid, wav] = &names[..] {
                files::write(mid, &midi(), false)?;
                let levels = write_wav(wav, &cues(), timbre.open(RATE)?, false)?;
                let (mid, wav) = (mid.display(), wav.display());
                println!("wrote {mid} and {wav} ({:.0} s)", levels.seconds);
            }
            Ok(())
        }
        done => done,
    }
}

/// 20 to 400 felt beats a minute, as in a chart.
fn tempo(text: &str) -> Result<f64, String> {
    let wrong = || format!("`{text}` is not 20 to 400 beats a minute");
    text.parse().ok().filter(|tempo| (20.0..=400.0).contains(tempo)).ok_or_else(wrong)
}
