//! `sinistra practise`: hear it, play it, know what was late.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use clap::builder::{PossibleValuesParser, TypedValueParser};
use parking_lot::Mutex;
use sinistra_core::engine::{KeyChoice, Settings};
use sinistra_score::MidiFile;
use sinistra_score::chart::{key_name, key_words};
use sinistra_score::course::{Example, LessonFile};
use sinistra_score::midi_file::HandTrack;
use sinistra_score::practice::{
    Exercise, Hand, Hands, Mix, Plan, Progress, Take, TakeReference, Task, comparable, tell,
};

use crate::bridge::{Selector, SystemName};
use crate::commands::lessons;
use crate::failure::Failure;
use crate::files;
use crate::options::{self, HandOptions};
use crate::practice::instruments::SoundOrder;
use crate::practice::judge::{json, lines, table, take_of};
use crate::practice::live::LiveRoom;
use crate::practice::pedals::{self, PedalAnswers};
use crate::practice::progress;
use crate::practice::session::{Lesson, Room, Sitting};
use crate::practice::windowed::{self, Furniture};
use crate::practice::wiring::Ports;
use crate::print;
use crate::scores;
use crate::sound::Timbre;
use crate::window;

/// Practise a left hand: hear it, play it, know what was late
#[derive(clap::Args)]
pub struct PractiseArgs {
    /// A chart: a text or MusicXML file, or the name of one that ships
    #[arg(required_unless_present_any = ["show", "export", "forget", "lesson"])]
    chart: Option<String>,
    /// What the left hand plays: a pattern file, or the name of one that ships
    /// [default: the first of the teaching order, or the lesson's]
    #[arg(long, value_name = "P")]
    pattern: Option<String>,
    /// A lesson of the course, which says what is played on which chart and how fast:
    /// a file, or the name or number of one that ships (`sinistra lessons`)
    #[arg(long, value_name = "LESSON")]
    lesson: Option<String>,
    /// Which of the lesson's examples, from 1
    #[arg(long, value_name = "N", requires = "lesson", default_value_t = 1,
          value_parser = options::whole::<usize>(1, 99))]
    example: usize,
    /// Judge this recorded take (a MIDI file) instead of listening
    #[arg(long, value_name = "TAKE.mid")]
    take: Option<PathBuf>,
    /// The track of the take, from 1 [default: all]
    #[arg(long, value_name = "N", requires = "take", value_parser = options::whole::<usize>(1, 65_535))]
    track: Option<usize>,
    /// The channel of the take, 1 to 16 [default: all]
    #[arg(long, value_name = "N", requires = "take",
          value_parser = options::whole::<u8>(1, 16))]
    channel: Option<u8>,
    /// The verdict as JSON
    #[arg(long, requires = "take")]
    json: bool,
    /// Only these bars, as printed on the sheet, such as 5-8
    #[arg(long, value_name = "A-B", value_parser = bars)]
    bars: Option<(i64, i64)>,
    /// Whose part is yours [default: left; of a take, what is in it]
    #[arg(long, value_parser = hands())]
    hands: Option<Hands>,
    /// Any left hand that keeps to the rule counts: the bass on the change,
    /// else a tone of the chord or the note that leads on
    #[arg(long)]
    free: bool,
    /// Felt beats a minute to reach [default: the chart's]
    #[arg(long, value_name = "N", value_parser = options::tempo)]
    tempo: Option<f64>,
    /// Go on around the circle of fifths, not to the next pattern
    #[arg(long)]
    circle: bool,
    /// Your keyboard: its number or a part of its name in `sinistra ports`;
    /// may be given again [default: every keyboard]
    #[arg(long, value_name = "PORT")]
    from: Vec<Selector>,
    /// A MIDI port to sound on, named the same way [default: the speakers]
    #[arg(long, value_name = "PORT")]
    to: Vec<Selector>,
    /// The MIDI system
    #[arg(long, default_value = "auto")]
    system: SystemName,
    /// Sound on this SoundFont 2 file instead of the piano
    #[arg(long, value_name = "F.sf2")]
    soundfont: Option<PathBuf>,
    /// Your keyboard has its own sound: do not sound its keys
    #[arg(long)]
    no_echo: bool,
    /// Milliseconds that your sound and keyboard add between beat and stroke
    #[arg(long, value_name = "MS", default_value_t = 0.0, 
          value_parser = options::decimal(-500.0, 500.0, "milliseconds"))]
    delay: f64,
    /// A pedal or button that answers between rounds, such as 80=slower:
    /// next, again, slower, faster or hear; may be given again
    /// [default: 64=next 67=again 66=slower]
    #[arg(long, value_name = "CC=ANSWER", value_parser = pedals::mapping)]
    pedal: Vec<(u8, crate::practice::session::Answer)>,
    /// In the terminal, not in a window
    #[arg(long)]
    terminal: bool,
    /// Never remind me of a break
    #[arg(long)]
    no_breaks: bool,
    /// Where progress is kept [default: in your data folder]
    #[arg(long, value_name = "FILE")]
    progress: Option<PathBuf>,
    /// Show what is remembered
    #[arg(long)]
    show: bool,
    /// Copy what is remembered to a file; every round by its day where the name ends in
    /// .csv, the sheet of the week where it ends in .pdf
    #[arg(long, value_name = "FILE")]
    export: Option<PathBuf>,
    /// Replace the file that --export names
    #[arg(long, requires = "export")]
    force: bool,
    /// Delete what is remembered
    #[arg(long, conflicts_with = "export")]
    forget: bool,
    #[command(flatten)]
    hand: HandOptions,
}

/// The first of the teaching order.
const FIRST_PATTERN: &str = "roots-on-the-beat";

/// `left`, `right` or `both`.
fn hands() -> impl TypedValueParser<Value = Hands> {
    PossibleValuesParser::new(["left", "right", "both"]).map(|hands| match hands.as_str() {
        "left" => Hands::Left,
        "right" => Hands::Right,
        _ => Hands::Both,
    })
}

/// Runs the command.
pub fn run(args: PractiseArgs) -> Result<(), Failure> {
    if args.show || args.export.is_some() || args.forget {
        return remembered(&args);
    }
    let timbre = Timbre::from_option(args.soundfont.as_deref())?;
    let course = args.lesson.as_deref().map(lessons::find).transpose()?;
    let example = course.as_ref().map(|course| example(course, args.example)).transpose()?;
    let chart = args.chart.clone().or(example.as_ref().map(|example| example.chart.clone()));
    let Some(name) = &chart else {
        return Err(Failure::Input("which chart?".into()));
    };
    let pattern = args.pattern.clone().or(course.as_ref().map(|course| course.pattern.clone()));
    let hand = args.hand.clone();
    hand.settings(None)?;
    let make = move |lesson: &Lesson| {
        let chart = options::in_key(scores::chart(&lesson.chart)?, lesson.key)?;
        let pattern = scores::pattern(&lesson.pattern)?;
        let key = KeyChoice::Fixed(chart.written_key().key());
        let settings = Settings { key, ..hand.settings(Some(&chart))? };
        // Written for the tempo that is to be reached, whatever it is learned at.
        Ok(Exercise::new(&chart, pattern, settings, lesson.goal.map(|felt| chart.quarters(felt))))
    };
    let lesson = Lesson {
        chart: name.clone(),
        pattern: pattern.unwrap_or_else(|| FIRST_PATTERN.into()),
        key: args.hand.key.named().or(example.and_then(|example| example.key)),
        hands: args.hands.unwrap_or(Hands::Left),
        free: args.free,
        goal: args.tempo.or(course.as_ref().map(|course| course.tempo)),
    };
    match &args.take {
        Some(take) => judge_take(&args, &make(&lesson)?, take),
        None => sit(&args, Box::new(make), lesson, timbre),
    }
}

/// The example of this number, from 1.
fn example(course: &LessonFile, number: usize) -> Result<Example, Failure> {
    let count = course.examples.len();
    let there = course.examples.get(number.saturating_sub(1)).cloned();
    there.ok_or_else(|| {
        Failure::Input(format!(
            "--example {number}: the lesson \u{201c}{}\u{201d} has {count}",
            course.title
        ))
    })
}

/// Writes a lesson out.
type Make = Box<dyn Fn(&Lesson) -> Result<Exercise, Failure> + Send>;

/// What was played, of a recorded file.
fn recorded(args: &PractiseArgs, path: &Path) -> Result<Take, Failure> {
    let name = path.display();
    let bytes = files::read(path)?;
    let file =
        MidiFile::read(&name.to_string(), &bytes).map_err(|e| Failure::Input(e.to_string()))?;
    let tracks = file.tracks().len();
    if let Some(track) = args.track.filter(|track| !(1..=tracks).contains(track)) {
        return Err(Failure::Input(format!("{name}: no track {track}; there are {tracks}")));
    }
    let part = HandTrack {
        track: args.track.map(|track| track - 1),
        channel: args.channel.map(|channel| channel - 1),
        drums: args.channel.is_some(),
    };
    let take = take_of(&file, &part);
    if take.strokes().is_empty() {
        return Err(Failure::Input(format!("{name}: no notes in it")));
    }
    Ok(take)
}

/// The verdict on a recorded take.
fn judge_take(args: &PractiseArgs, exercise: &Exercise, path: &Path) -> Result<(), Failure> {
    let (name, take) = (path.display(), recorded(args, path)?);
    let plan = plan(args, exercise)?;
    let tempo = args.tempo.map_or(exercise.tempo, |felt| felt * exercise.felt_beat());
    let (from, to) = exercise.span(plan.bars.0, plan.bars.1);
    let whole = args.bars.is_none();
    let task = if args.free {
        let mut rule = exercise.rule(tempo, args.hand.split);
        rule.places.retain(|place| whole || (from..to).contains(&place.model.at));
        Task::Free(rule)
    } else {
        let target = exercise.target(tempo);
        let target = if whole { target } else { target.between(from, to) };
        let target = match args.hands {
            Some(Hands::Left) => target.of_hand(Hand::Left),
            Some(Hands::Right) => target.of_hand(Hand::Right),
            Some(Hands::Both) | None => target,
        };
        if !comparable(&target, &take) {
            return Err(Failure::Input(format!(
                "{name}: too long to be judged in one go\nhint: judge a part of it with --bars, such as 1-64"
            )));
        }
        Task::Line(target)
    };
    let Some(told) = tell(&task, &take, TakeReference::Own) else {
        return Err(Failure::Input(format!(
            "{name}: nothing of {} with {} is in it\nhint: is it the key that was played? it is {} here",
            exercise.title(),
            exercise.pattern,
            key_words(exercise.key)
        )));
    };
    if args.json {
        let mut value = json(&told, exercise.key);
        value["title"] = exercise.title().into();
        value["pattern"] = exercise.pattern.clone().into();
        value["key"] = key_name(exercise.key).into();
        println!("{value}");
        return Ok(());
    }
    println!("{}, {}, {}\n", exercise.title(), exercise.pattern, key_words(exercise.key));
    lines(&told).iter().for_each(|line| println!("{line}"));
    println!();
    table(&told.verdict).iter().for_each(|line| println!("{line}"));
    Ok(())
}

/// At the keyboard: in a window where there is a display, else in the terminal.
fn sit(args: &PractiseArgs, make: Make, lesson: Lesson, timbre: Timbre) -> Result<(), Failure> {
    let plan = plan(args, &make(&lesson)?)?;
    let path = progress_path(args);
    let progress = match &path {
        Some(path) => progress::read(path)?,
        None => Progress::default(),
    };
    let keep = move |progress: &Progress| match &path {
        Some(path) => progress::write(progress, path),
        None => Ok(()),
    };
    let (circle, breaks) = (args.circle, !args.no_breaks);
    // Breaks are always noticed in a window, which may be told to mind them.
    let sitting = Arc::new(Mutex::new(Some((make, lesson, progress, keep))));
    let hold = move |room: &mut dyn Room, breaks: bool| {
        let Some((make, lesson, mut progress, keep)) = sitting.lock().take() else {
            return Ok(());
        };
        let sitting = Sitting { make: &make, plan, circle, breaks, keep: &keep };
        sitting.hold(lesson, &mut progress, room)
    };
    let wishes = SoundOrder {
        ports: Ports {
            system: args.system,
            from: args.from.clone(),
            to: args.to.clone(),
            echo: !args.no_echo,
        },
        timbre,
    };
    let pedals = PedalAnswers::with(&args.pedal);
    if !args.terminal && window::may_be_shown() {
        let furniture = Furniture {
            wishes: wishes.clone(),
            pedals: pedals.clone(),
            delay_ms: plan.delay_ms,
            breaks,
        };
        let in_window = hold.clone();
        match windowed::hold(furniture, move |room| in_window(room, true)) {
            Ok(held) => return held,
            Err(why) => println!("no window here ({why}); in the terminal instead"),
        }
    } else if !args.terminal {
        println!("no display here; in the terminal instead");
    }
    hold(&mut LiveRoom::open(wishes, pedals)?, breaks)
}

fn plan(args: &PractiseArgs, exercise: &Exercise) -> Result<Plan, Failure> {
    let last = exercise.last_bar();
    let bars = args.bars.unwrap_or((i64::MIN, last));
    if let Some((a, b)) = args.bars.filter(|(a, b)| *a > last || *b > last) {
        return Err(Failure::Input(format!("--bars {a}-{b}: the sheet has bars 1 to {last}")));
    }
    let (hands, free) = (args.hands.unwrap_or(Hands::Left), args.free);
    Ok(Plan {
        bars,
        hands,
        free,
        split: args.hand.split,
        delay_ms: args.delay,
        mix: Mix::default(),
    })
}

fn progress_path(args: &PractiseArgs) -> Option<PathBuf> {
    args.progress.clone().or_else(progress::usual_path)
}

/// Shows, copies or deletes what is remembered.
fn remembered(args: &PractiseArgs) -> Result<(), Failure> {
    let Some(path) = progress_path(args) else {
        return Err(Failure::Machine("this system names no data folder; give --progress".into()));
    };
    if let Some(copy) = &args.export {
        if !path.exists() {
            return Err(Failure::Input("nothing is remembered yet".into()));
        }
        let end = copy.extension().unwrap_or_default().to_string_lossy().to_lowercase();
        let bytes = match end.as_str() {
            "csv" => progress::read(&path)?.diary().csv().into_bytes(),
            "pdf" => {
                let week = progress::read(&path)?.diary().week(progress::now());
                print::words("The week's practice", &week)?
            }
            _ => files::read(&path)?,
        };
        files::write(copy, &bytes, args.force)?;
        println!("wrote {}", copy.display());
    }
    if args.show {
        let lines = progress::read(&path)?.lines();
        if lines.is_empty() {
            println!("nothing is remembered yet");
        }
        lines.iter().for_each(|line| println!("{line}"));
    }
    if args.forget {
        match std::fs::remove_file(&path) {
            Ok(()) => println!("forgotten: {} is deleted", path.display()),
            Err(e) if e.kind() == std::io::ErrorKind::NotFound => {
                println!("nothing is remembered yet");
            }
            Err(e) => {
                return Err(Failure::Machine(format!("{}: cannot delete it: {e}", path.display())));
            }
        }
    }
    Ok(())
}

/// `5` or `5-8`, from 1.
fn bars(text: &str) -> Result<(i64, i64), String> {
    let wrong = || "bars as printed, from 1, such as 5 or 5-8, are meant".to_owned();
    let (first, last) = text.split_once(['-', '\u{2013}']).unwrap_or((text, text));
    let number = |text: &str| text.trim().parse::<i64>().map_err(|_| wrong());
    let (first, last) = (number(first)?, number(last)?);
    if first < 1 || last < first { Err(wrong()) } else { Ok((first, last)) }
}
