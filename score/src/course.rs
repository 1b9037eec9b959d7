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

use crate::chart::read_written_key;
use crate::{Fault, Faults, Spot, limits, slug};
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
    pattern: String,
    examples: Spanned<Vec<Spanned<String>>>,
    tempo: Spanned<f64>,
    clean: String,
    next: Option<String>,
}

const HINT: &str = "a lesson has title, aim, how, pattern, examples, tempo, clean and next, \
                    such as presets/lessons/03-fifths.toml";

impl LessonFile {
    /// Reads `text`, called `file` in faults.
    ///
    /// # Errors
    /// Every fault, with its line, column and what would be right.
    pub fn read(file: &str, text: &str) -> Result<Self, Faults> {
        if text.len() > limits::PATTERN {
            let what = format!("{} KiB are too long for a lesson (64 KiB)", text.len() >> 10);
            return Err(Fault::new(what).of_file(file).into());
        }
        let fault = |span: Range<usize>, what: String, hint: &str| {
            Fault::new(what).at(Spot::in_text(file, text, span.start, span.end)).hint(hint)
        };
        let raw: Raw = toml::from_str(text).map_err(|error| {
            let what = error.message().lines().collect::<Vec<_>>().join(", ");
            Faults::from(fault(error.span().unwrap_or(0..0), what, HINT))
        })?;
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
        let mut examples = Vec::new();
        for written in raw.examples.get_ref() {
            match written.get_ref().rsplit_once(" in ") {
                None => examples.push(Example { chart: written.get_ref().clone(), key: None }),
                Some((chart, name)) => match read_written_key(name.trim()) {
                    Some(key) => {
                        let chart = chart.trim().to_owned();
                        examples.push(Example { chart, key: Some(key) });
                    }
                    None => faults.push(fault(
                        written.span(),
                        format!("no key `{name}`"),
                        "keys are such as C, Bb, F#m or A minor",
                    )),
                },
            }
        }
        Faults::or_ok(faults)?;
        Ok(Self {
            title: raw.title.into_inner(),
            aim: raw.aim,
            how: raw.how,
            pattern: raw.pattern,
            examples,
            tempo: raw.tempo.into_inner(),
            clean: raw.clean,
            next: raw.next,
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
        LessonFile::read(self.slug, self.text)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::ChartPreset;
    use crate::find_pattern;

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
            ("aim =", "goal =", "goal"),
            (
                "[\"four-bar-loop\", \"swing-door\", \"fog-over-the-lake in Em\"]",
                "[]",
                "needs a chart",
            ),
        ] {
            let faults = LessonFile::read("mine.toml", &good.replace(from, to)).expect_err(said);
            let told = faults.to_string();
            assert!(told.starts_with("mine.toml:") && told.contains(said), "{told}");
        }
    }
}
