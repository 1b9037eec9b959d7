//! The set: patterns and charts to walk through, loaded before they are needed.

use sinistra_core::engine::KeyChoice;
use sinistra_core::foresee::Song;
use sinistra_core::key::Key;
use sinistra_core::pitch::Semitones;
use sinistra_core::play::Pattern;
use sinistra_core::time::Metre;
use sinistra_score::chart::{Problem, key_name};
use sinistra_score::{Chart, Fault, Faults, wording};

use super::setup::{EntryWords, SetupWords};
use super::stage::{Ask, SetEntry, SongSettings};
use crate::options::{key_choice, key_number, metre};
use crate::scores;

/// One entry, read and checked.
#[derive(Clone, Debug, PartialEq)]
struct Ready {
    name: String,
    /// The pattern as it was named.
    named: Option<String>,
    /// The chart with its intro, as it is written.
    written: Option<Chart>,
    pattern: Option<Box<Pattern>>,
    song: Option<Box<Song>>,
    tempo: Option<f64>,
    metre: Option<Metre>,
    key: Option<Key>,
    swing: Option<f32>,
    own: SongSettings,
}

/// The entries, and which of them is played.
#[derive(Clone, Debug)]
pub struct SetList {
    entries: Vec<Ready>,
    at: usize,
}

impl SetList {
    /// Reads everything that `words` name: the entries of the set, else the
    /// charts or patterns as a list.
    ///
    /// # Errors
    /// Every fault, a line or more each.
    pub fn read(words: &SetupWords) -> Result<Self, String> {
        let mut faults = Vec::new();
        let mut entries = Vec::new();
        for line in &lines(words) {
            match ready(line) {
                Ok(entry) => entries.push(entry),
                Err(fault) => faults.push(fault),
            }
        }
        if faults.is_empty() { Ok(Self { entries, at: 0 }) } else { Err(faults.join("\n")) }
    }

    /// How many entries there are.
    pub fn len(&self) -> usize {
        self.entries.len()
    }

    /// The name of the entry that is played, with its number from 1.
    pub fn name(&self) -> Option<(usize, &str)> {
        self.entries.get(self.at).map(|entry| (self.at + 1, entry.name.as_str()))
    }

    /// The names of all, in order.
    pub fn names(&self) -> Vec<String> {
        self.entries.iter().map(|entry| entry.name.clone()).collect()
    }

    /// The place of the entry that is played, from 0.
    pub fn at(&self) -> Option<usize> {
        (self.at < self.entries.len()).then_some(self.at)
    }

    /// Bars of the chart that is played.
    pub fn bars(&self) -> Option<i64> {
        let song = self.entries.get(self.at)?.song.as_ref()?;
        i64::try_from(song.bars().len()).ok()
    }

    /// The entry at `from` goes to `to`; what is played stays what is played.
    pub fn shift(&mut self, from: usize, to: usize) -> bool {
        if from >= self.entries.len() || to >= self.entries.len() || from == to {
            return false;
        }
        let entry = self.entries.remove(from);
        self.entries.insert(to, entry);
        self.at = match self.at {
            at if at == from => to,
            at if from < at && at <= to => at - 1,
            at if to <= at && at < from => at + 1,
            at => at,
        };
        true
    }

    /// Another reading of the same set: what is played stays what is played, by its
    /// name, else by its place. Whether chart, pattern or anything else of it is new.
    pub fn read_anew(&mut self, mut fresh: Self) -> bool {
        let named = self.entries.get(self.at).map(|entry| entry.name.clone());
        let by_name = fresh.entries.iter().position(|entry| Some(&entry.name) == named.as_ref());
        fresh.at = by_name.unwrap_or(self.at).min(fresh.entries.len().saturating_sub(1));
        let is_new = fresh.entries.get(fresh.at) != self.entries.get(self.at);
        *self = fresh;
        is_new
    }

    /// Of the entry that is played the chart's text as it sounds, its intro before it,
    /// and the pattern as it was named.
    pub fn written(&self) -> (Option<String>, Option<String>) {
        let Some(entry) = self.entries.get(self.at) else { return (None, None) };
        (entry.written.as_ref().map(Chart::to_string), entry.named.clone())
    }

    /// What is to be said of the pattern in the chart's metres, if it is written for
    /// others.
    pub fn fitted(&self) -> Option<String> {
        let entries = self.entries.get(..=self.at)?;
        let song = entries.last()?.song.as_ref()?;
        let metres = song.bars().iter().map(|bar| bar.metre);
        match entries.iter().rev().find_map(|entry| entry.pattern.as_deref()) {
            Some(pattern) => wording::fitted(pattern, metres),
            None => wording::fitted(&usual(), metres),
        }
    }

    /// A copy of the present entry for the stage.
    pub fn entry(&self) -> Option<SetEntry> {
        let entry = self.entries.get(self.at)?.clone();
        Some(SetEntry {
            pattern: entry.pattern,
            bars: entry.song.clone(),
            song: entry.song,
            tempo: entry.tempo,
            metre: entry.metre,
            key: entry.key,
            swing: entry.swing,
            own: entry.own,
        })
    }

    /// Goes where it is asked to; whether that is another entry. The list
    /// does not run around: on stage nobody wants the first song after the
    /// last one.
    pub fn go(&mut self, ask: Ask) -> bool {
        let to = match ask {
            Ask::Next => self.at + 1,
            Ask::Previous => self.at.saturating_sub(1),
            Ask::Entry(number) => usize::from(number),
            Ask::Pattern(_) | Ask::Style(_) | Ask::Panic => return false,
        };
        let is_other = to < self.entries.len() && to != self.at;
        if is_other {
            self.at = to;
        }
        is_other
    }
}

/// The entries that the words amount to.
pub fn lines(words: &SetupWords) -> Vec<EntryWords> {
    if !words.entry.is_empty() {
        let mut entries = words.entry.clone();
        if let Some(first) = entries.first_mut() {
            first.pattern = first.pattern.take().or_else(|| words.pattern.first().cloned());
        }
        return entries;
    }
    let pattern = words.pattern.first().cloned();
    if words.chart.is_empty() {
        let entry = |p: &String| EntryWords { pattern: Some(p.clone()), ..EntryWords::default() };
        return words.pattern.iter().map(entry).collect();
    }
    let entry = |(n, chart): (usize, &String)| EntryWords {
        chart: Some(chart.clone()),
        pattern: words.pattern.get(n).cloned().or_else(|| pattern.clone().filter(|_| n == 0)),
        ..EntryWords::default()
    };
    words.chart.iter().enumerate().map(entry).collect()
}

fn ready(words: &EntryWords) -> Result<Ready, String> {
    let told = |fault: crate::failure::Failure| fault.to_string();
    if let Some((word, fault)) = words.faults().into_iter().next() {
        let name = words.name.as_deref().unwrap_or("(no name)");
        return Err(format!("entry {name}: {word}: {fault}"));
    }
    let chart = words.chart.as_deref().map(scores::chart).transpose().map_err(told)?;
    let chart = match (chart, words.intro.as_deref()) {
        (Some(chart), Some(intro)) => {
            Some(with_intro(&chart, intro).map_err(|fault| format!("intro: {fault}"))?)
        }
        (chart, _) => chart,
    };
    let by = words.transpose.unwrap_or(0);
    let chart = chart.map(|chart| if by == 0 { chart } else { transposed(&chart, by) });
    let pattern = words.pattern.as_deref().map(scores::pattern).transpose().map_err(told)?;
    let key = match words.key.as_deref().map(key_choice).transpose()? {
        Some(KeyChoice::Fixed(key)) => Some(key),
        _ => None,
    };
    let name = words
        .name
        .clone()
        .or_else(|| chart.as_ref().map(|chart| chart.title().to_owned()))
        .or_else(|| pattern.as_ref().map(|pattern| pattern.name.clone()))
        .unwrap_or_else(|| "(no name)".into());
    let song = chart.as_ref().map(|chart| Box::new(chart.unfold()));
    let metre = words.metre.as_deref().map(metre).transpose()?;
    Ok(Ready {
        name,
        named: words.pattern.clone(),
        written: chart.clone(),
        tempo: words.tempo.or_else(|| song.as_ref().and_then(|song| song.tempo)),
        metre: metre.or_else(|| chart.as_ref().map(|chart| chart.draft().metre)),
        swing: words
            .swing
            .or_else(|| chart.and_then(|chart| chart.draft().swing))
            .map(|swing| f32::from(swing) / 100.0),
        own: own(words),
        pattern,
        song,
        key,
    })
}

/// What the words set for this song alone.
fn own(words: &EntryWords) -> SongSettings {
    let part = |percent: u8| f32::from(percent) / 100.0;
    SongSettings {
        left: words.left,
        split: words.split.as_deref().and_then(|key| key_number(key).ok()),
        busy: words.busy,
        variety: words.variety,
        length: words.length.map(part),
        loose: words.loose.map(part),
        pedal: words.sustain,
        loudness: words.loudness.map(part),
        channel: words.channel.map(|channel| channel.saturating_sub(1)),
        program: words.program.map(|program| program.saturating_sub(1)),
        bank: words.bank,
    }
}

/// The chart with an intro before it: bars as in a chart, in the song's key and metre,
/// or a chart by its name or file.
pub fn with_intro(chart: &Chart, intro: &str) -> Result<Chart, String> {
    let bars = intro.contains('|');
    let before = if bars {
        let (key, metre) = (key_name(chart.written_key()), chart.draft().metre);
        let text = format!("key: {key}\nmetre: {}/{}\n\n{intro}\n", metre.beats(), metre.unit());
        let said = |fault: &Fault| match &fault.hint {
            Some(hint) => format!("{} ({hint})", fault.what),
            None => fault.what.clone(),
        };
        let told = |faults: Faults| faults.iter().map(said).collect::<Vec<_>>().join("; ");
        Chart::read("intro", &text).map_err(told)?
    } else {
        scores::chart(intro).map_err(|fault| fault.to_string())?
    };
    let told = |problems: Vec<Problem>| {
        problems.into_iter().map(|problem| problem.what).collect::<Vec<_>>().join("; ")
    };
    chart.with_intro(&before).map_err(told)
}

/// The chart so many semitones higher.
pub fn transposed(chart: &Chart, by: i8) -> Chart {
    let key = chart.written_key().key();
    let to = Key { tonic: key.tonic.transpose(Semitones(by.into())), ..key };
    chart.transpose(to).unwrap_or_else(|| chart.clone())
}

/// Roots on the beat: what is played when only roots are wanted.
pub fn roots() -> Box<Pattern> {
    Pattern::default_boxed()
}

/// What is played when no pattern is named.
pub fn usual() -> Box<Pattern> {
    scores::pattern(scores::USUAL_PATTERN).unwrap_or_else(|_| roots())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_song_is_transposed_with_its_chart() {
        let entry = EntryWords {
            chart: Some("lantern-street".into()),
            transpose: Some(2),
            ..EntryWords::default()
        };
        let first = |entry: &EntryWords| {
            let words = SetupWords { entry: vec![entry.clone()], ..SetupWords::default() };
            let song = SetList::read(&words).expect("a set").entry().expect("an entry").song;
            song.and_then(|song| song.chords().first()?.chord).expect("a chord").root
        };
        let untouched = EntryWords { transpose: None, ..entry.clone() };
        assert_eq!(first(&entry), first(&untouched).transpose(Semitones(2)));
    }

    #[test]
    fn a_waltz_on_four_is_told() {
        let entry = |pattern: Option<&str>| EntryWords {
            chart: Some("lantern-street".into()),
            pattern: pattern.map(str::to_owned),
            ..EntryWords::default()
        };
        let mut set = named([Some("thirds"), Some("waltz"), None].map(entry).into());
        assert_eq!(set.fitted(), None);
        for n in [1, 2] {
            set.go(Ask::Entry(n)); // the waltz goes on
            assert!(set.fitted().expect("told").ends_with("in 4/4 it is fitted to the bar."));
        }
    }

    #[test]
    fn an_intro_is_played_before_the_song_in_its_key() {
        let entry = EntryWords {
            chart: Some("lantern-street".into()),
            intro: Some("| Dm7 | G7 |".into()),
            transpose: Some(2),
            ..EntryWords::default()
        };
        let set = |entry: EntryWords| {
            SetList::read(&SetupWords { entry: vec![entry], ..SetupWords::default() })
        };
        let song = set(entry.clone())
            .expect("a set")
            .entry()
            .and_then(|entry| entry.song)
            .expect("a song");
        let bare = EntryWords { intro: None, ..entry.clone() };
        let own = set(bare).expect("a set").entry().and_then(|entry| entry.song).expect("a song");
        assert_eq!(song.bars().len(), own.bars().len() + 2);
        let roots = |song: &Song, n: usize| song.chords()[n].chord.expect("a chord").root.index();
        assert_eq!([roots(&song, 0), roots(&song, 1)], [4, 9], "E minor, A: a whole tone higher");
        assert_eq!(roots(&song, 2), roots(&own, 0));
        // As it is shown: what sounds.
        let shown = set(entry.clone()).expect("a set").written().0.expect("a chart");
        assert!(shown.contains("[Intro]\n|  Em7 | A7 |"), "{shown}");
        let wrong = set(EntryWords { intro: Some("| Hm |".into()), ..entry });
        assert!(wrong.expect_err("no chord").contains("intro: "));
    }

    fn entry(name: &str) -> EntryWords {
        EntryWords { name: Some(name.into()), ..EntryWords::default() }
    }

    fn named(entry: Vec<EntryWords>) -> SetList {
        SetList::read(&SetupWords { entry, ..SetupWords::default() }).expect("a set")
    }

    #[test]
    fn the_order_changes_and_what_is_played_goes_on() {
        let mut set = named(["a", "b", "c"].map(entry).into());
        set.go(Ask::Entry(1));
        assert!(set.shift(2, 0));
        assert_eq!((set.names().concat(), set.name()), ("cab".into(), Some((3, "b"))));
        assert!(set.shift(2, 1) && !set.shift(1, 1) && !set.shift(0, 3));
        assert_eq!((set.names().concat(), set.name()), ("cba".into(), Some((2, "b"))));
        // Read anew in yet another order, with another tempo for what is played.
        let mut entries: Vec<_> = ["b", "a"].map(entry).into();
        entries[0].tempo = Some(60.0);
        let fresh = named(entries);
        assert!(set.read_anew(fresh.clone()) && !set.read_anew(fresh));
        assert_eq!(set.name(), Some((1, "b")));
    }

    #[test]
    fn the_set_is_walked_through_and_does_not_run_around() {
        let mut set = named(["a", "b", "c"].map(entry).into());
        assert!(!set.go(Ask::Previous));
        assert!(set.go(Ask::Next) && set.go(Ask::Next));
        assert!(!set.go(Ask::Next));
        assert_eq!(set.name(), Some((3, "c")));
        assert!(set.go(Ask::Entry(0)) && !set.go(Ask::Entry(7)));
        assert_eq!(set.name(), Some((1, "a")));
    }
}
