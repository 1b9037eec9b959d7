//! Reads a pattern file, prints it, and compiles it into a pattern.

use std::fmt::Write as _;
use std::ops::Range;

use serde::Deserialize;
use toml::Spanned;

use super::count;
use super::presets::{PatternPreset, find_pattern, pattern_presets};
use super::row::{self, Word};
use super::voices::{self, PatternVoice};
use super::word::{self, Said};
use crate::fault::toml_fault;
use crate::{Fault, Faults, Spot, limits};
use sinistra_core::play::{Part, Parts, Pattern, Wish, Wishes, WrittenBars};
use sinistra_core::time::{Metre, Ticks};

/// A pattern as it is written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PatternFile {
    /// As the player sees it.
    pub name: String,
    /// What it teaches or adds, in a sentence or two.
    pub about: String,
    /// What a busier hand adds between the written places.
    pub fill: Option<String>,
    /// Whether the hand improvises where it can; its bars are then for the
    /// metres in which it cannot.
    pub improvises: bool,
    /// Left hands of the library that a free hand draws from, phrase by phrase.
    pub draws: Vec<String>,
    /// Whether a stroke wider than the hand is rolled from below; else what it
    /// does not reach is left out.
    pub rolls: bool,
    /// Its bars, metre by metre.
    pub bars: Vec<PatternBar>,
}

/// The bars of one metre, or one variation of them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PatternBar {
    /// Such as `4/4`.
    pub metre: String,
    /// The places, bar by bar.
    pub count: Vec<Vec<String>>,
    /// What may sound at each of them.
    pub play: Vec<Vec<String>>,
    /// What the bass plays below that, where there are two voices.
    pub bass: Option<Vec<Vec<String>>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Raw {
    name: Spanned<String>,
    #[serde(default)]
    about: String,
    fill: Option<Spanned<String>>,
    #[serde(default)]
    improvises: bool,
    draws: Option<Spanned<Vec<Spanned<String>>>>,
    rolls: Option<bool>,
    #[serde(default)]
    bar: Vec<RawBar>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawBar {
    metre: Spanned<String>,
    count: Spanned<String>,
    play: Spanned<String>,
    bass: Option<Spanned<String>>,
}

impl PatternFile {
    /// Reads `text`, called `file` in faults. Not for the audio thread.
    ///
    /// # Errors
    /// Every fault of the file, in the order of its lines.
    pub fn read(file: &str, text: &str) -> Result<Self, Faults> {
        PatternReader::new(file, text).read().map(|(raw, _)| plain(raw, text))
    }

    /// Reads and compiles in one go. Not for the audio thread.
    ///
    /// ```
    /// use sinistra_core::{engine::Settings, time::{Metre, Place, Ticks}};
    /// use sinistra_score::PatternFile;
    ///
    /// let text = r#"
    /// name = "Root and fifth"
    ///
    /// [[bar]]
    /// metre = "4/4"
    /// count = "1    3"
    /// play  = "root fifth"
    /// "#;
    /// let pattern = PatternFile::compile("mine.toml", text)?;
    /// let bar = Place::first(Metre::COMMON);
    /// let next = pattern.next_slot(bar, Ticks::ZERO, &Settings::default());
    /// assert_eq!(next.map(|slot| slot.at.beats()), Some(2.0)); // the third beat
    /// # Ok::<(), sinistra_score::Faults>(())
    /// ```
    ///
    /// # Errors
    /// Every fault of the file, in the order of its lines.
    pub fn compile(file: &str, text: &str) -> Result<Box<Pattern>, Faults> {
        let (raw, bars) = PatternReader::new(file, text).read()?;
        let pattern = Pattern::new(raw.name.get_ref(), &raw.about, &bars.written, &bars.fill)
            .improvising(raw.improvises)
            .rolling(raw.rolls.unwrap_or(true));
        Ok(Box::new(if raw.draws.is_some() { pattern.drawing() } else { pattern }))
    }

    /// As a pattern file: places above what is played there.
    pub fn print(&self) -> String {
        let quoted = |text: &str| toml::Value::from(text).to_string();
        let mut text = format!("name = {}\n", quoted(&self.name));
        let _ = writeln!(text, "about = {}", quoted(&self.about));
        if let Some(fill) = &self.fill {
            let _ = writeln!(text, "fill = {}", quoted(fill));
        }
        if self.improvises {
            let _ = writeln!(text, "improvises = true");
        }
        if !self.draws.is_empty() {
            let names: Vec<_> = self.draws.iter().map(|name| quoted(name)).collect();
            let _ = writeln!(text, "draws = [{}]", names.join(", "));
        }
        if !self.rolls {
            let _ = writeln!(text, "rolls = false");
        }
        for bar in &self.bars {
            let _ = write!(text, "\n[[bar]]\nmetre = {}\n", quoted(&bar.metre));
            let rows: Vec<_> = [&bar.count, &bar.play].into_iter().chain(&bar.bass).collect();
            for (name, row) in ["count", "play ", "bass "].iter().zip(aligned(&rows)) {
                let _ = writeln!(text, "{name} = {}", quoted(&row));
            }
        }
        text
    }
}

/// Rows with their columns one above the other.
fn aligned(rows: &[&Vec<Vec<String>>]) -> Vec<String> {
    let mut texts = vec![String::new(); rows.len()];
    for bar in 0..rows.first().map_or(0, |row| row.len()) {
        let bar_line = if bar == 0 { "" } else { "| " };
        texts.iter_mut().for_each(|text| text.push_str(bar_line));
        let words = |row: &&Vec<Vec<String>>| row.get(bar).cloned().unwrap_or_default();
        let words: Vec<_> = rows.iter().map(words).collect();
        for column in 0..words.first().map_or(0, Vec::len) {
            let word = |row: &Vec<String>| row.get(column).cloned().unwrap_or_default();
            let column: Vec<_> = words.iter().map(word).collect();
            let width = column.iter().map(|word| word.chars().count()).max().unwrap_or(0);
            for (text, word) in texts.iter_mut().zip(column) {
                let _ = write!(text, "{word:width$} ");
            }
        }
    }
    texts.iter().map(|text| text.trim_end().to_owned()).collect()
}

/// What a pattern is compiled from.
struct WrittenPattern {
    written: Vec<WrittenBars>,
    fill: Wishes,
}

/// A file on its way to a pattern, with the faults found so far.
struct PatternReader<'a> {
    file: &'a str,
    text: &'a str,
    faults: Vec<Fault>,
}

impl<'a> PatternReader<'a> {
    fn new(file: &'a str, text: &'a str) -> Self {
        Self { file, text, faults: Vec::new() }
    }

    fn read(mut self) -> Result<(Raw, WrittenPattern), Faults> {
        if self.text.len() > limits::PATTERN {
            let what = format!("{} KiB are too long for a pattern (64 KiB)", self.text.len() >> 10);
            return Err(Fault::new(what).of_file(self.file).into());
        }
        let raw: Raw = match toml::from_str(self.text) {
            Ok(raw) => raw,
            Err(error) => {
                self.fault(error.span().unwrap_or(0..0), toml_fault(error.message()), HINT);
                return Err(Faults::or_ok(self.faults).err().unwrap_or_else(|| odd().into()));
            }
        };
        if raw.name.get_ref().trim().is_empty() {
            self.fault(raw.name.span(), "a pattern needs a name", "name = \"Roots on the beat\"");
        }
        let drawn = raw.draws.as_ref().map(|draws| self.drawn(draws)).unwrap_or_default();
        if raw.bar.is_empty() && raw.draws.is_none() {
            let end = self.text.trim_end().len();
            self.fault(end..end, "a pattern needs a bar", HINT);
        }
        let fill = raw.fill.as_ref().map(|fill| {
            let words: Vec<_> = row::bars(fill, self.text).into_iter().flatten().collect();
            if let Some(second) = words.get(1) {
                self.fault(second.span.clone(), "a fill is one word", "such as lead/fifth/root");
            }
            words.first().map(|word| self.fill(word)).unwrap_or_default()
        });
        let rolls = raw.rolls.unwrap_or(true);
        let mut written: Vec<_> = raw.bar.iter().filter_map(|bar| self.bar(bar, rolls)).collect();
        let (most, all) = (limits::PATTERN_BARS.0, written.iter().map(|w| w.bars.len()).sum());
        if most < all {
            let what = format!("{all} bars in this pattern; it has {most} at the most");
            let last = raw.bar.last().map_or(0..0, |bar| bar.metre.span());
            self.fault(last, what, "write fewer variations");
        }
        Faults::or_ok(self.faults)?;
        let fill = fill.unwrap_or_else(|| [Wish::Root].into_iter().collect());
        written.extend(drawn);
        Ok((raw, WrittenPattern { written, fill }))
    }

    /// The bars of the left hands that are drawn from.
    fn drawn(&mut self, draws: &Spanned<Vec<Spanned<String>>>) -> Vec<WrittenBars> {
        if draws.get_ref().is_empty() {
            self.fault(draws.span(), "a style without a left hand to draw from", DRAWS);
        }
        let mut bars = Vec::new();
        for (index, name) in draws.get_ref().iter().enumerate() {
            let said = name.get_ref();
            let found = find_pattern(said);
            if draws
                .get_ref()
                .iter()
                .take(index)
                .any(|other| find_pattern(other.get_ref()) == found)
                && found.is_some()
            {
                self.fault(name.span(), format!("`{said}` is named twice"), "once is enough");
                continue;
            }
            match found.map(library_bars) {
                None => {
                    let what = format!("no left hand of the library is called `{said}`");
                    self.fault(name.span(), what, left_hands());
                }
                Some(none) if none.is_empty() => {
                    let what = format!("`{said}` improvises itself");
                    self.fault(name.span(), what, DRAWS);
                }
                Some(mut written) => bars.append(&mut written),
            }
        }
        bars
    }

    fn bar(&mut self, bar: &RawBar, rolls: bool) -> Option<WrittenBars> {
        let counts = row::bars(&bar.count, self.text);
        if counts.iter().all(Vec::is_empty) {
            self.fault(bar.count.span(), "no place is counted", "a bar of rest is `1` with a `-`");
        }
        let most = limits::PATTERN_BARS.1;
        if counts.len() > most {
            self.fault(bar.count.span(), format!("more than {most} bars"), "write fewer");
        }
        let metre = count::metre(bar.metre.get_ref());
        if metre.is_none() {
            let what = format!("`{}` is no metre", bar.metre.get_ref());
            self.fault(bar.metre.span(), what, "a metre is such as 4/4, 3/4 or 12/8");
        }
        let places = self.places(bar, &counts, metre);
        let play = self.row(&bar.play, &counts, &places, metre, rolls);
        let written = match &bar.bass {
            None => together(&places, |at| play.at(at).map(Parts::bass)),
            Some(row) => {
                let bass = self.row(row, &counts, &places, metre, rolls);
                for (number, index) in voices::crossings(&bass.parts, &play.parts) {
                    let word = play.words.get(number).and_then(|words| words.get(index));
                    let span = word.map_or(bar.play.span(), |word| word.span.clone());
                    let hint = "what is played above the bass lies higher than it";
                    self.fault(span, "the voices cross", hint);
                }
                together(&places, |at| {
                    let parts = Parts { bass: bass.at(at), tenor: play.at(at) };
                    (parts != Parts::default()).then_some(parts)
                })
            }
        };
        metre.map(|metre| WrittenBars { library: 0, metre, bars: written })
    }

    /// Where each count lies, bar by bar.
    fn places(
        &mut self,
        bar: &RawBar,
        counts: &[Vec<Word<'_>>],
        metre: Option<Metre>,
    ) -> Vec<Vec<Ticks>> {
        let Some(metre) = metre else { return Vec::new() };
        let mut bars = Vec::new();
        for count in counts {
            let most = limits::PATTERN_PLACES;
            if count.len() > most {
                let what = format!("more than {most} places in a bar");
                self.fault(bar.count.span(), what, "write fewer");
            }
            let (mut number, mut last) = (0, Ticks(-1));
            let mut places = Vec::new();
            for word in count {
                match count::place(word.text, &mut number, metre) {
                    Err(what) => self.fault(word.span.clone(), what, count::COUNTS),
                    Ok(at) if at <= last => {
                        let what = format!("`{}` is counted too late", word.text);
                        self.fault(word.span.clone(), what, "counts go forward through the bar");
                    }
                    Ok(at) => {
                        last = at;
                        places.push(at);
                    }
                }
            }
            bars.push(places);
        }
        bars
    }

    /// A row of a voice under its counts.
    fn row<'r>(
        &mut self,
        row: &'r Spanned<String>,
        counts: &[Vec<Word<'_>>],
        places: &[Vec<Ticks>],
        metre: Option<Metre>,
        rolls: bool,
    ) -> Row<'r> {
        let words = row::bars(row, self.text);
        if counts.len() != words.len() {
            let what = format!("{} bars are counted and {} are played", counts.len(), words.len());
            self.fault(row.span(), what, "count and play need | at the same places");
        }
        for (count, play) in counts.iter().zip(&words) {
            if count.len() != play.len() {
                let what =
                    format!("{} places are counted and {} are played", count.len(), play.len());
                let span = match play.get(count.len()) {
                    Some(word) => word.span.clone(),
                    None => play.last().map_or(row.span(), |word| word.span.clone()),
                };
                self.fault(span, what, "each count has one word below it, - for a rest");
            }
        }
        let mut wrong = Vec::new();
        let parts = PatternVoice::new(&words, places, metre, rolls).parts(&mut wrong);
        for (span, what, hint) in wrong {
            self.fault(span, what, hint);
        }
        Row { words, parts }
    }

    /// What a busier hand adds: single tones.
    fn fill(&mut self, word: &Word<'_>) -> Wishes {
        let part = match word::read(word.text, None) {
            Ok(Said::Part(part)) => part,
            Ok(_) => return Wishes::new(),
            Err(wrong) => {
                for (_, what, hint) in wrong {
                    self.fault(word.span.clone(), what, hint);
                }
                return Wishes::new();
            }
        };
        if part.strokes.iter().any(|stroke| stroke.len() > 1) {
            self.fault(word.span.clone(), "a fill is one tone", "such as lead/fifth/root");
        }
        part.strokes.iter().flatten().copied().collect()
    }

    fn fault(&mut self, span: Range<usize>, what: impl Into<String>, hint: impl Into<String>) {
        let spot = Spot::in_text(self.file, self.text, span.start, span.end);
        self.faults.push(Fault::new(what).at(spot).hint(hint));
    }
}

/// A row of a voice: its words, and what they say.
struct Row<'a> {
    words: Vec<Vec<Word<'a>>>,
    parts: Vec<Vec<Option<Part>>>,
}

impl Row<'_> {
    fn at(&self, (bar, index): (usize, usize)) -> Option<Part> {
        self.parts.get(bar)?.get(index)?.clone()
    }
}

/// Bar by bar, the places at which a voice says something.
fn together(
    places: &[Vec<Ticks>],
    said: impl Fn((usize, usize)) -> Option<Parts>,
) -> Vec<Vec<(Ticks, Parts)>> {
    let bar = |(bar, places): (usize, &Vec<Ticks>)| {
        let place = |(index, at): (usize, &Ticks)| Some((*at, said((bar, index))?));
        places.iter().enumerate().filter_map(place).collect()
    };
    places.iter().enumerate().map(bar).collect()
}

const HINT: &str =
    "a pattern has name, about and one or more [[bar]] with metre, count, play and perhaps bass";

const DRAWS: &str = "a style draws from left hands that are written, such as draws = [\"stride\", \"walking-bass\"]";

/// The names that a style may draw from.
fn left_hands() -> String {
    let written = pattern_presets().iter().filter(|preset| !preset.text.contains("improvises"));
    let names: Vec<_> = written.filter(|p| !p.text.contains("draws =")).map(|p| p.slug).collect();
    format!("there are {}", names.join(", "))
}

/// The bars of a left hand of the library, marked with its number; none if it has none
/// of its own.
fn library_bars(preset: &PatternPreset) -> Vec<WrittenBars> {
    let number = pattern_presets().iter().position(|other| other == preset);
    let library = number.and_then(|n| u16::try_from(n + 1).ok()).unwrap_or(0);
    let mut reader = PatternReader::new(preset.slug, preset.text);
    let Ok(raw) = toml::from_str::<Raw>(preset.text) else { return Vec::new() };
    if raw.improvises || raw.draws.is_some() {
        return Vec::new();
    }
    let rolls = raw.rolls.unwrap_or(true);
    let bars = raw.bar.iter().filter_map(|bar| reader.bar(bar, rolls));
    bars.map(|bars| WrittenBars { library, ..bars }).collect()
}

fn odd() -> Fault {
    Fault::new("this is no pattern file").hint(HINT)
}

/// A list without its places in the text.
fn names(list: Spanned<Vec<Spanned<String>>>) -> Vec<String> {
    list.into_inner().into_iter().map(Spanned::into_inner).collect()
}

/// What was read, without its places in the text.
fn plain(raw: Raw, text: &str) -> PatternFile {
    let words = |row: &Spanned<String>| {
        let bars = row::bars(row, text).into_iter();
        bars.map(|bar| bar.iter().map(|word| word.text.to_owned()).collect()).collect()
    };
    PatternFile {
        name: raw.name.into_inner(),
        about: raw.about,
        fill: raw.fill.map(|fill| fill.into_inner().trim().to_owned()),
        improvises: raw.improvises,
        draws: raw.draws.map(names).unwrap_or_default(),
        rolls: raw.rolls.unwrap_or(true),
        bars: raw
            .bar
            .iter()
            .map(|bar| PatternBar {
                metre: bar.metre.get_ref().trim().to_owned(),
                count: words(&bar.count),
                play: words(&bar.play),
                bass: bar.bass.as_ref().map(words),
            })
            .collect(),
    }
}
