//! The course: lessons in teaching order, each a text file that a teacher can write.
//!
//! ```toml
//! title = "Fifths"
//! aim = "Let the fifth answer the root."
//! how = ["Shape the hand once, and move the whole hand."]
//! pattern = "fifths"
//! examples = ["four-bar-loop", "lantern-street in G"]
//! tempo = 76
//! clean = "Every key right, and no gap when the hand moves."
//! next = "thirds"
//! ```

use std::ops::Range;

use serde::Deserialize;
use toml::Spanned;

use crate::chart::{ChartPreset, read_written_key};
use crate::fault::toml_fault;
use crate::{Fault, Faults, Spot, find_pattern, limits, slug};
use sinistra_core::key::WrittenKey;

/// A lesson as it is written.
#[derive(Clone, Debug, PartialEq)]
pub struct LessonFile {
    /// Its name for people.
    pub title: String,
    /// What is learned, in a sentence.
    pub aim: String,
    /// How to practise it, a sentence each.
    pub how: Vec<String>,
    /// The pattern: a file, or the name of one that ships.
    pub pattern: String,
    /// What it is practised on, the easiest first; at least one.
    pub examples: Vec<Example>,
    /// Felt beats a minute to reach.
    pub tempo: f64,
    /// What a clean round is here, in a sentence.
    pub clean: String,
    /// The lesson that comes next; `None` after the last.
    pub next: Option<String>,
}

/// A chart in a key.
#[derive(Clone, Debug, PartialEq)]
pub struct Example {
    /// A file, or the name of one that ships.
    pub chart: String,
    /// `None` is the chart's own.
    pub key: Option<WrittenKey>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Raw {
    title: Spanned<String>,
    aim: String,
    #[serde(default)]
    how: Vec<String>,
    pattern: Spanned<String>,
    examples: Spanned<Vec<Spanned<String>>>,
    tempo: Spanned<f64>,
    clean: String,
    next: Option<Spanned<String>>,
}

impl Raw {
    fn read(file: &str, text: &str) -> Result<Self, Faults> {
        if text.len() > limits::PATTERN {
            let what = format!("{} KiB are too long for a lesson (64 KiB)", text.len() >> 10);
            return Err(Fault::new(what).of_file(file).into());
        }
        toml::from_str(text).map_err(|error| {
            let what = toml_fault(error.message());
            fault_at((file, text), error.span().unwrap_or(0..0), what, HINT).into()
        })
    }
}

fn fault_at((file, text): (&str, &str), span: Range<usize>, what: String, hint: &str) -> Fault {
    Fault::new(what).at(Spot::in_text(file, text, span.start, span.end)).hint(hint)
}

const HINT: &str = "a lesson has title, aim, how, pattern, examples, tempo, clean and next, \
                    such as presets/lessons/03-fifths.toml";

impl LessonFile {
    /// Reads `text`, called `file` in faults. What it names ships, or `is_file`.
    ///
    /// # Errors
    /// Every fault, with its line, column and what would be right.
    pub fn read(file: &str, text: &str, is_file: impl Fn(&str) -> bool) -> Result<Self, Faults> {
        let fault = |span, what, hint: &str| fault_at((file, text), span, what, hint);
        let raw = Raw::read(file, text)?;
        let mut faults = Vec::new();
        if raw.title.get_ref().trim().is_empty() {
            faults.push(fault(raw.title.span(), "a lesson needs a title".into(), HINT));
        }
        if !(20.0..=400.0).contains(raw.tempo.get_ref()) {
            let what = format!("no tempo `{}`", raw.tempo.get_ref());
            faults.push(fault(raw.tempo.span(), what, "20 to 400 felt beats a minute"));
        }
        if raw.examples.get_ref().is_empty() {
            let what = "a lesson needs a chart to practise it on".into();
            faults.push(fault(raw.examples.span(), what, "examples = [\"four-bar-loop in D\"]"));
        }
        let unknown = |kind: &str, name: &Spanned<String>, ships: bool, such: &str| {
            let what = format!("no {kind} `{}`", name.get_ref());
            let hint = format!("a file beside the lesson, or one that ships, such as {such}");
            (!ships && !is_file(name.get_ref())).then(|| fault(name.span(), what, &hint))
        };
        let pattern = raw.pattern.get_ref();
        let is_pattern = find_pattern(pattern).is_some() || pattern.contains(',');
        faults.extend(unknown("pattern", &raw.pattern, is_pattern, "fifths"));
        if let Some(next) = &raw.next {
            let ships = LessonPreset::find(next.get_ref()).is_some();
            faults.extend(unknown("lesson", next, ships, "thirds"));
        }
        let mut examples = Vec::new();
        for written in raw.examples.get_ref() {
            let split =
                written.get_ref().rsplit_once(" in ").filter(|_| !is_file(written.get_ref()));
            let (chart, key) = match split {
                Some((chart, key)) => (chart.trim(), Some(key.trim())),
                None => (written.get_ref().as_str(), None),
            };
            let named = Spanned::new(written.span(), chart.to_owned());
            let ships = ChartPreset::find(chart).is_some();
            faults.extend(unknown("chart", &named, ships, "four-bar-loop"));
            let read = key.and_then(read_written_key);
            examples.push(Example { chart: chart.to_owned(), key: read });
            if let Some(name) = key.filter(|_| read.is_none()) {
                let what = format!("no key `{name}`");
                let hint = "keys are such as C, Bb, F#m or A minor";
                faults.push(fault(written.span(), what, hint));
            }
        }
        Faults::or_ok(faults)?;
        Ok(Self {
            title: raw.title.into_inner(),
            aim: raw.aim,
            how: raw.how,
            pattern: raw.pattern.into_inner(),
            examples,
            tempo: raw.tempo.into_inner(),
            clean: raw.clean,
            next: raw.next.map(Spanned::into_inner),
        })
    }
}

/// A lesson that ships with the program.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LessonPreset {
    /// For the command line, such as `passing-notes`.
    pub slug: &'static str,
    /// Its file.
    pub text: &'static str,
}

macro_rules! lessons {
    ($($number:literal $slug:literal;)*) => {
        const LESSONS: &[LessonPreset] = &[$(LessonPreset {
            slug: $slug,
            text: include_str!(concat!("../../presets/lessons/", $number, "-", $slug, ".toml")),
        },)*];
    };
}

lessons! {
    "01" "roots-on-the-beat";
    "02" "roots-and-offbeats";
    "03" "fifths";
    "04" "thirds";
    "05" "passing-notes";
    "06" "octaves-together";
    "07" "octaves-low-high";
    "08" "octaves-high-low";
    "09" "dropped-octave";
    "10" "everything-mixed";
    "11" "waltz";
    "12" "six-eight";
    "13" "slow-twelve-eight";
    "14" "broken-chord";
    "15" "alberti-bass";
    "16" "march";
    "17" "stride";
    "18" "waltz-chords";
    "19" "walking-bass";
    "20" "boogie-woogie";
    "21" "shuffle";
    "22" "bossa-nova";
    "23" "slow-ballad";
    "24" "free-hand";
}

impl LessonPreset {
    /// All, in teaching order.
    #[must_use]
    pub const fn all() -> &'static [Self] {
        LESSONS
    }

    /// By its name (whatever the case, with spaces or hyphens), or its number in the
    /// order.
    #[must_use]
    pub fn find(name: &str) -> Option<&'static Self> {
        let name = slug(name);
        let number = name.parse::<usize>().ok().and_then(|number| number.checked_sub(1));
        LESSONS
            .iter()
            .find(|lesson| lesson.slug == name)
            .or_else(|| number.and_then(|number| LESSONS.get(number)))
    }

    /// What is written in its file.
    ///
    /// # Errors
    /// Never for those that ship; a test reads them all.
    pub fn read(&self) -> Result<LessonFile, Faults> {
        LessonFile::read(self.slug, self.text, |_| false)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_lesson_reads_and_leads_to_the_next() {
        let all = LessonPreset::all();
        for (index, lesson) in all.iter().enumerate() {
            let read = lesson.read().expect(lesson.slug);
            assert!(find_pattern(&read.pattern).is_some(), "{}", lesson.slug);
            assert_eq!(read.next.as_deref(), all.get(index + 1).map(|next| next.slug));
            assert!(read.examples.len() >= 2, "{}: several songs or keys", lesson.slug);
            for Example { chart, key } in &read.examples {
                let chart = ChartPreset::find(chart).expect(chart).chart().expect(chart);
                assert!(key.is_none_or(|key| chart.transpose(key).is_some()), "{}", lesson.slug);
            }
            assert!([&read.aim, &read.clean].iter().all(|text| text.ends_with('.')));
        }
        assert_eq!(LessonPreset::find("Passing notes"), LessonPreset::find("5"));
    }

    #[test]
    fn what_is_wrong_is_told_with_its_place() {
        let good = LessonPreset::all()[2].text;
        for (from, to, said) in [
            ("tempo = 76", "tempo = 7", "no tempo `7`"),
            ("\"swing-door\"", "\"swing-door in H\"", "no key `H`"),
            ("aim =", "goal =", "`goal` is no word of it"),
            ("aim =", "# aim =", "`aim` is missing"),
            ("tempo = 76", "tempo = \"fast\"", ":10:9: a number is meant"),
            ("pattern = \"fifths\"", "pattern = 3", ":7:11: words in quotes are meant"),
            ("pattern = \"fifths\"", "pattern = \"fitfhs", ":7:18: the quotes do not end"),
            ("pattern = \"fifths\"", "pattern = \"fitfhs\"", ":7:11: no pattern `fitfhs`"),
            ("\"swing-door\"", "\"swinging-door in G\"", ":8:30: no chart `swinging-door`"),
            ("next = \"thirds\"", "next = \"thrids\"", "no lesson `thrids`"),
            (
                "[\"four-bar-loop\", \"swing-door\", \"fog-over-the-lake in Em\"]",
                "[]",
                "needs a chart",
            ),
        ] {
            let text = good.replace(from, to);
            let faults = LessonFile::read("mine.toml", &text, |_| false).expect_err(said);
            let told = faults.to_string();
            assert!(told.starts_with("mine.toml:") && told.contains(said), "{told}");
            assert!(!told.contains("expected"), "{told}");
        }
        let mine = good.replace("\"swing-door\"", "\"once in may.txt\"");
        let lesson = LessonFile::read("mine.toml", &mine, |name| name == "once in may.txt");
        assert_eq!(lesson.expect("a lesson").examples[1].chart, "once in may.txt");
    }
}
