//! `sinistra perform`: a chart, played with both hands.

use std::path::PathBuf;

use sinistra_core::engine::{KeyChoice, Settings};
use sinistra_score::performance::USUAL_TEMPO;
use sinistra_score::{Chart, PatternFile, Performance, wording};

use crate::failure::Failure;
use crate::files;
use crate::options::{self, HandOptions};
use crate::perform::grid::{self, Paint};
use crate::perform::outputs::{self, HeardHands};
use crate::practice::sheets::{self, EveryKey, WrittenPerformance};
use crate::print::{self, PrintOptions};
use crate::scores;
use crate::sound::{Timbre, play_aloud, write_wav};

/// Samples a second in sound files.
const RATE: u32 = 48_000;

/// Play a chord chart with both hands
#[derive(clap::Args)]
pub struct PerformArgs {
    /// A chart: a text or MusicXML file (.musicxml, .mxl), or one that ships
    chart: String,
    /// What the left hand plays: a pattern file, or the name of one that ships; several
    /// with commas, such as stride,walking-bass, are a style that the free hand draws from
    #[arg(long, value_name = "P", default_value = scores::USUAL_PATTERN)]
    pattern: String,
    /// Felt beats a minute: quarters in 4/4, dotted quarters in 6/8
    #[arg(long, value_name = "N", value_parser = options::tempo)]
    tempo: Option<f64>,
    /// Play it this many times over
    #[arg(long, value_name = "N", default_value_t = 1, value_parser = options::whole::<u16>(1, 999))]
    repeat: u16,
    /// Which hands are heard
    #[arg(long, value_enum, default_value_t = HeardHands::Both)]
    hands: HeardHands,
    /// Write a MIDI file
    #[arg(long, value_name = "F.mid")]
    midi: Option<PathBuf>,
    /// Write a sound file
    #[arg(long, value_name = "F.wav")]
    wav: Option<PathBuf>,
    /// Write the notes, a sheet to practise from: pages to print (.pdf, or .svg: a
    /// file each), or MusicXML; with `--hands left` pages show the left hand alone
    #[arg(long, value_name = "F.pdf|F.musicxml|F.svg")]
    sheet: Option<PathBuf>,
    /// Keep what the left hand plays as a pattern file, to practise from
    #[arg(long, value_name = "F.toml")]
    keep: Option<PathBuf>,
    #[command(flatten)]
    print: PrintOptions,
    /// Write a sheet and a MIDI file for every key into the folder that --sheet names
    #[arg(long, requires = "sheet", conflicts_with_all = ["key", "midi", "wav", "keep"])]
    all_keys: bool,
    /// Play it on this SoundFont 2 file instead of the piano
    #[arg(long, value_name = "F.sf2")]
    soundfont: Option<PathBuf>,
    #[command(flatten)]
    hand: HandOptions,
    /// Replace files that are there
    #[arg(long)]
    force: bool,
}

/// Runs the command.
pub fn run(args: PerformArgs) -> Result<(), Failure> {
    let sheet = args.sheet.as_ref().filter(|_| !args.all_keys);
    sheet.map_or(Ok(()), |path| print::may_be_sheet(path))?;
    let written = [args.midi.as_ref(), args.wav.as_ref(), args.keep.as_ref(), sheet];
    let written = written.into_iter().flatten();
    files::may_write_all(written.map(PathBuf::as_path), args.force)?;
    // A SoundFont that is none is told before the first of several files.
    let timbre = Timbre::from_option(args.soundfont.as_deref())?;
    let chart = options::in_key(scores::chart(&args.chart)?, args.hand.key.named())?;
    let pattern = scores::pattern(&args.pattern)?;
    let key = KeyChoice::Fixed(chart.written_key().key());
    let pedal = args.hand.sustain.unwrap_or(true);
    let settings = Settings { key, pedal, ..args.hand.settings(Some(&chart))? };
    let tempo = chart.quarters(args.tempo.or(chart.draft().tempo).unwrap_or(USUAL_TEMPO));
    let times = args.repeat;
    let set = EveryKey {
        chart: &chart,
        pattern: &args.pattern,
        settings,
        tempo,
        times,
        print: args.print,
        force: args.force,
    };
    if let Some(folder) = args.sheet.as_ref().filter(|_| args.all_keys) {
        let files = sheets::all_keys(&set, folder)?;
        println!("wrote {files} files into {}", folder.display());
        return Ok(());
    }
    let metres = chart.draft().bars.iter().map(|bar| bar.metre);
    let fitted = wording::fitted(&pattern, metres);
    let WrittenPerformance { performance, sheet: page } = set.written(&chart, pattern, settings);

    let kept =
        args.keep.as_ref().map(|path| Ok((path, kept(&chart, &performance)?))).transpose()?;
    let layout = args.print.layout(args.hands == HeardHands::Left);
    let printed = sheet.map(|path| print::sheet(&page, path, &layout)).transpose()?;
    if let Some(printed) = &printed {
        let others = [args.midi.as_ref(), args.wav.as_ref()].into_iter().flatten();
        let all = printed.paths().chain(others.map(PathBuf::as_path));
        files::may_write_all(all, args.force)?;
    }
    println!("{}\n", grid::head(&page));
    if let Some(fitted) = fitted {
        println!("{fitted}\n");
    }
    print!("{}", grid::grid(&page, Paint::of_terminal()));
    println!("{}", grid::legend(&page));
    if let Some(printed) = printed {
        for path in printed.write(args.force)? {
            println!("wrote {}", path.display());
        }
    }
    if let Some((path, kept)) = kept {
        files::write(path, kept.print().as_bytes(), args.force)?;
        println!("wrote {}; practise it with --pattern {0}", path.display());
    }
    give(&args, &chart, &performance, &timbre)
}

/// What the left hand played, as a pattern.
fn kept(chart: &Chart, performance: &Performance) -> Result<PatternFile, Failure> {
    let name = format!("{}, kept", chart.title());
    PatternFile::kept(&performance.song, &performance.left, &name)
        .map_err(|fault| Failure::Input(format!("--keep: {fault}")))
}

/// Writes what is asked for; without that, plays it, or writes what it can.
fn give(
    args: &PerformArgs,
    chart: &Chart,
    performance: &Performance,
    timbre: &Timbre,
) -> Result<(), Failure> {
    let midi = || outputs::midi(chart, performance, args.hands);
    let cues = || outputs::cues(performance, args.hands);
    if let Some(path) = &args.midi {
        files::write(path, &midi(), args.force)?;
        println!("wrote {}", path.display());
    }
    if let Some(path) = &args.wav {
        let levels = write_wav(path, &cues(), timbre.open(RATE)?, args.force)?;
        println!("wrote {} ({:.0} s)", path.display(), levels.seconds);
    }
    let written = [&args.midi, &args.wav, &args.sheet, &args.keep];
    if written.into_iter().any(Option::is_some) {
        return Ok(());
    }
    println!("playing; Ctrl-C stops");
    match play_aloud(&cues(), timbre, |_| !crate::interrupt::asked_to_stop()) {
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
