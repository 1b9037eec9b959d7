//! `sinistra lessons`: the course, and a lesson on paper.

use std::path::{Path, PathBuf};

use sinistra_core::engine::{KeyChoice, Settings};
use sinistra_score::chart::key_name;
use sinistra_score::course::{Example, LessonFile, LessonPreset};
use sinistra_score::practice::Exercise;

use crate::failure::Failure;
use crate::files;
use crate::options;
use crate::print::{self, PrintOptions};
use crate::scores;

/// The course: what to learn in which order, and each lesson to read and to print
#[derive(clap::Args)]
pub struct Args {
    /// A lesson: a file, or the name or number of one that ships [default: all]
    lesson: Option<String>,
    /// Write the lesson and the left hand of its examples as pages to print
    #[arg(long, value_name = "F.pdf", requires = "lesson")]
    sheet: Option<PathBuf>,
    #[command(flatten)]
    print: PrintOptions,
    /// Replace the file that is there
    #[arg(long)]
    force: bool,
}

/// Runs the command.
pub fn run(args: Args) -> Result<(), Failure> {
    let Some(name) = &args.lesson else {
        for (number, preset) in LessonPreset::all().iter().enumerate() {
            let lesson = preset.read().map_err(|faults| Failure::Input(faults.to_string()))?;
            println!("{:>2}  {:<20} {}", number + 1, preset.slug, lesson.aim);
        }
        println!("\nsinistra practise --lesson NAME starts one; sinistra lessons NAME tells of it");
        return Ok(());
    };
    let lesson = find(name)?;
    let words = words(&lesson);
    println!("{}\n", lesson.title);
    words.iter().for_each(|line| println!("{line}"));
    let Some(path) = &args.sheet else { return Ok(()) };
    files::may_write_all([path.as_path()], args.force)?;
    let sheets: Result<Vec<_>, Failure> = lesson
        .examples
        .iter()
        .map(|example| Ok(args.print.sheet(&written(&lesson, example)?)))
        .collect();
    let layout = args.print.layout(false);
    let bytes = print::lesson(&lesson.title, &words, &sheets?, path, &layout)?;
    files::write(path, &bytes, args.force)?;
    println!("\nwrote {}", path.display());
    Ok(())
}

/// A lesson file, or a lesson that ships by its name or number. What a file names
/// beside it is found there.
///
/// # Errors
/// If there is neither; every fault of a file.
pub fn find(name: &str) -> Result<LessonFile, Failure> {
    let path = Path::new(name);
    let read = if path.is_file() {
        let text = files::read_text(path)?;
        let is_file = |name: &str| Path::new(name).is_file() || near(path, name).is_file();
        LessonFile::read(name, &text, is_file).map(|lesson| beside(path, lesson))
    } else if let Some(preset) = LessonPreset::find(name) {
        preset.read()
    } else {
        let ship = LessonPreset::all().iter().map(|preset| preset.slug);
        return Err(scores::unknown("lesson", name, ship));
    };
    read.map_err(|faults| Failure::Input(faults.to_string()))
}

/// Where a file would lie that the lesson at `path` names.
fn near(path: &Path, name: &str) -> PathBuf {
    path.parent().unwrap_or(Path::new("")).join(name)
}

/// With the files that lie beside the lesson's own named from here.
fn beside(path: &Path, mut lesson: LessonFile) -> LessonFile {
    let placed = |name: &mut String| {
        let near = near(path, name);
        if near.is_file() {
            *name = near.to_string_lossy().into_owned();
        }
    };
    placed(&mut lesson.pattern);
    lesson.examples.iter_mut().for_each(|example| placed(&mut example.chart));
    lesson
}

/// The left hand of an example, at the lesson's tempo.
fn written(lesson: &LessonFile, example: &Example) -> Result<Exercise, Failure> {
    let chart = options::in_key(scores::chart(&example.chart)?, example.key)?;
    let pattern = scores::pattern(&lesson.pattern)?;
    let swing = f32::from(chart.draft().swing.unwrap_or(50)) / 100.0;
    let key = KeyChoice::Fixed(chart.written_key().key());
    let settings = Settings { key, swing, ..Settings::default() };
    Ok(Exercise::new(&chart, pattern, settings, Some(chart.quarters(lesson.tempo))))
}

/// A lesson in words, a paragraph a line.
fn words(lesson: &LessonFile) -> Vec<String> {
    let example = |(number, example): (usize, &Example)| {
        let key = example.key.map_or(String::new(), |key| format!(" in {}", key_name(key)));
        format!("{}. {}{key}", number + 1, example.chart)
    };
    let mut lines = vec![format!("Aim: {}", lesson.aim)];
    lines.extend(lesson.how.iter().map(|how| format!("\u{2013} {how}")));
    lines.push(format!("Pattern: {}. Tempo to reach: {:.0}.", lesson.pattern, lesson.tempo));
    let examples: Vec<String> = lesson.examples.iter().enumerate().map(example).collect();
    lines.push(format!("Practise on: {}.", examples.join("; ")));
    lines.push(format!("Clean is: {}", lesson.clean));
    lines.extend(lesson.next.as_ref().map(|next| format!("Next: {next}.")));
    lines.push("Take a break after ten minutes; stop when something hurts.".into());
    lines
}
