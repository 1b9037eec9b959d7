//! The words of the bridge: each is an option and a line of a set-up file.

use std::path::PathBuf;

use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::resolve::RANGES;
use crate::bridge::controls::Mapping;
use crate::bridge::ports::Selector;
use crate::bridge::stage::LeftHandWork;
use crate::bridge::time::{Clicks, ClockSource, PaceStart};
use crate::bridge::zones::ZoneWords;
use crate::options::{key_choice, key_number, metre};

/// The MIDI system.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default, Serialize, Deserialize, clap::ValueEnum)]
#[serde(rename_all = "kebab-case")]
pub enum SystemName {
    /// JACK if its server runs and ALSA has no ports, else ALSA
    #[default]
    Auto,
    /// The ALSA sequencer; elsewhere the system's own MIDI
    Alsa,
    /// JACK, or PipeWire through its JACK library
    Jack,
}

/// Everything that can be said. What is not said has its usual value.
#[derive(clap::Args, Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, default)]
pub struct SetupWords {
    /// A keyboard: its number or part of its name in `sinistra ports`, or
    /// virtual; may be given again. Default: every keyboard
    #[arg(long, value_name = "PORT")]
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub from: Vec<Selector>,
    /// A sound module, named the same way; may be given again. Default: the
    /// first module
    #[arg(long, value_name = "PORT")]
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub to: Vec<Selector>,
    /// Send keys back to the instrument that they are on (for a piano with
    /// local control off)
    #[arg(long)]
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub echo: bool,
    /// The MIDI system
    #[arg(long)]
    pub system: Option<SystemName>,
    /// Play both hands on the built-in piano
    #[arg(long)]
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub sound: bool,
    /// Loudness of the built-in piano, 0 to 100 (it starts quiet: 30)
    #[arg(long, value_name = "0..100", value_parser = clap::value_parser!(u8).range(0..=100))]
    pub volume: Option<u8>,
    /// A SoundFont 2 file instead of the built-in piano
    #[arg(long, value_name = "FILE.sf2")]
    pub soundfont: Option<PathBuf>,

    /// When the left hand plays: the name of a pattern, or a pattern file;
    /// given again, a list to walk through
    #[arg(long, value_name = "PATTERN")]
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub pattern: Vec<String>,
    /// A chord chart, a file or the name of one that ships; given again, a
    /// list to walk through
    #[arg(long, value_name = "CHART")]
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub chart: Vec<String>,
    /// What the left hand does
    #[arg(long)]
    pub left: Option<LeftHandWork>,

    /// Where the beat comes from
    #[arg(long)]
    pub clock: Option<ClockSource>,
    /// What sets the beat going
    #[arg(long)]
    pub start: Option<PaceStart>,
    /// Quarter notes a minute; with --clock hand, what to expect
    #[arg(long, value_name = "20..400", value_parser = tempo)]
    pub tempo: Option<f64>,
    /// The metre, such as 4/4 or 6/8, where no chart says it
    #[arg(long, value_name = "N/N")]
    pub metre: Option<String>,
    /// Bars counted in before the song, unless a chord starts it
    #[arg(long, value_name = "BARS", value_parser = clap::value_parser!(u8).range(0..=8))]
    pub count_in: Option<u8>,
    /// Bars of silence after which the next chord is a first beat; 0: never
    #[arg(long, value_name = "BARS", value_parser = clap::value_parser!(u8).range(0..=64))]
    pub rest_after: Option<u8>,
    /// When the metronome is heard
    #[arg(long)]
    pub click: Option<Clicks>,
    /// The MIDI channel of the metronome
    #[arg(long, value_name = "1..16", value_parser = clap::value_parser!(u8).range(1..=16))]
    pub click_channel: Option<u8>,
    /// Its loudness, in percent
    #[arg(long, value_name = "0..120", value_parser = clap::value_parser!(u8).range(0..=120))]
    pub click_loudness: Option<u8>,
    /// Send MIDI clock (clock that comes in is then not passed on)
    #[arg(long)]
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub clock_out: bool,

    /// The key of the songs, such as C, Bb, F#m; auto hears it
    #[arg(long, value_name = "KEY")]
    pub key: Option<String>,
    /// The lowest key of the right hand, such as C4 or 60
    #[arg(long, value_name = "KEY")]
    pub split: Option<String>,
    /// Sparing 0 to 100 busy; 50 is the pattern as written
    #[arg(long, value_name = "0..100", value_parser = clap::value_parser!(u8).range(0..=100))]
    pub busy: Option<u8>,
    /// One figure 0 to 100 many, where the left hand improvises; 50 is as pianists do
    #[arg(long, value_name = "0..100", value_parser = clap::value_parser!(u8).range(0..=100))]
    pub variety: Option<u8>,
    /// Where the "and" falls in its beat, in percent: 50 straight, 67 triplets
    #[arg(long, value_name = "50..75", value_parser = clap::value_parser!(u8).range(50..=75))]
    pub swing: Option<u8>,
    /// How far notes are spread in time and loudness, in percent: 0 exact
    #[arg(long, value_name = "0..100", value_parser = clap::value_parser!(u8).range(0..=100))]
    pub loose: Option<u8>,
    /// The left hand takes the sustain pedal, changed with each chord
    #[arg(long, value_name = "on|off", num_args = 0..=1, default_missing_value = "on",
          value_parser = crate::options::on_or_off)]
    pub sustain: Option<bool>,
    /// Length of the notes, in percent: 10 detached, 100 joined
    #[arg(long, value_name = "10..100", value_parser = clap::value_parser!(u8).range(10..=100))]
    pub length: Option<u8>,
    /// Loudness beside the right hand, in percent
    #[arg(long, value_name = "20..150", value_parser = clap::value_parser!(u8).range(20..=150))]
    pub loudness: Option<u8>,
    /// The lowest key of the left hand
    #[arg(long, value_name = "KEY")]
    pub lowest: Option<String>,
    /// The highest key of the left hand
    #[arg(long, value_name = "KEY")]
    pub highest: Option<String>,
    /// The widest struck span, in semitones
    #[arg(long, value_name = "SEMITONES", value_parser = clap::value_parser!(u8).range(0..=24))]
    pub reach: Option<u8>,
    /// How long a late right hand is waited for on a change, in ms
    #[arg(id = "wait", long = "wait", value_name = "0..150",
          value_parser = clap::value_parser!(u8).range(0..=150))]
    #[serde(rename = "wait", alias = "window")]
    pub window: Option<u8>,
    /// How sure a forecast must be before a note leads to it, in percent
    #[arg(long, value_name = "0..100", value_parser = clap::value_parser!(u8).range(0..=100))]
    pub certainty: Option<u8>,
    /// Bars that the left hand goes on for after the right hand let go
    #[arg(long, value_name = "BARS", value_parser = clap::value_parser!(u8).range(0..=64))]
    pub hold_bars: Option<u8>,
    /// Chooses among variations; the same number plays the same
    #[arg(long, value_name = "N")]
    pub seed: Option<u64>,
    /// The MIDI channel of the left hand; default: the right hand's own
    #[arg(long, value_name = "1..16", value_parser = clap::value_parser!(u8).range(1..=16))]
    pub channel: Option<u8>,
    /// A channel to listen to; may be given again. Default: all but 10, where
    /// pads and drums are
    #[arg(long, value_name = "1..16", value_parser = clap::value_parser!(u8).range(1..=16))]
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub listen: Vec<u8>,

    /// A control and what it does, such as 'do = "tap", control = 66'; may be
    /// given again
    #[arg(long, value_name = "LINE", value_parser = mapping)]
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub map: Vec<Mapping>,
    /// Where a hand sounds, and how, such as 'hand = "left", channel = 2, octave = -1,
    /// touch = "softer"'; may be given again
    #[arg(long, value_name = "LINE", value_parser = zone)]
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub zone: Vec<ZoneWords>,
    /// An entry of the set, such as 'name = "Waltz", pattern = "waltz",
    /// metre = "3/4"'; may be given again
    #[arg(long, value_name = "LINE", value_parser = entry)]
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub entry: Vec<EntryWords>,
}

/// One entry of a set of songs.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, default)]
pub struct EntryWords {
    /// As shown.
    pub name: Option<String>,
    /// A pattern; if it is not said, the one before goes on.
    pub pattern: Option<String>,
    /// A chart; if it is not said, none.
    pub chart: Option<String>,
    /// Chords that are played once before the chart: bars such as `| Dm7 | G7 |`, or a
    /// chart by its name or file.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub intro: Option<String>,
    /// Quarter notes a minute; else the chart's, else as it is.
    pub tempo: Option<f64>,
    /// Such as 6/8.
    pub metre: Option<String>,
    /// The key.
    pub key: Option<String>,
    /// The chart so many semitones higher, or lower.
    pub transpose: Option<i8>,
    /// What the left hand does; this and what follows is for this song alone.
    pub left: Option<LeftHandWork>,
    /// The lowest key of the right hand.
    pub split: Option<String>,
    /// Sparing 0 to 100 busy.
    pub busy: Option<u8>,
    /// One figure 0 to 100 many.
    pub variety: Option<u8>,
    /// Where the "and" falls in its beat, in percent.
    pub swing: Option<u8>,
    /// Length of the notes, in percent.
    pub length: Option<u8>,
    /// See [`SetupWords::loose`].
    pub loose: Option<u8>,
    /// See [`SetupWords::sustain`].
    pub sustain: Option<bool>,
    /// Loudness beside the right hand, in percent.
    pub loudness: Option<u8>,
    /// The MIDI channel of the left hand, 1 to 16.
    pub channel: Option<u8>,
    /// The sound of the left hand's channel, 1 to 128 as modules count them:
    /// sent when the song is chosen.
    pub program: Option<u8>,
    /// The bank that it is in, 0 to 16,383.
    pub bank: Option<u16>,
}

impl EntryWords {
    /// What makes no sense: the word, and what would be right.
    pub fn faults(&self) -> Vec<(&'static str, String)> {
        let numbers = serde_json::to_value(self).unwrap_or_default();
        let number = |word: &str| numbers.get(word).and_then(Value::as_i64);
        let mut faults = Vec::new();
        let own = [("transpose", -11, 11), ("program", 1, 128), ("bank", 0, 16_383)];
        let ranges = RANGES.map(|(word, low, high)| (word, low.into(), high.into()));
        for (word, low, high) in ranges.into_iter().chain(own) {
            if number(word).is_some_and(|value| !(low..=high).contains(&value)) {
                faults.push((word, format!("it is {low} to {high}")));
            }
        }
        if self.tempo.is_some_and(|tempo| !crate::bridge::time::TEMPOS.contains(&tempo)) {
            faults.push(("tempo", "a tempo is 20 to 400".into()));
        }
        if self.bank.is_some() && self.program.is_none() {
            faults.push(("bank", "a bank takes hold with a program: name that too".into()));
        }
        if self.transpose.is_some() && self.chart.is_none() {
            faults.push(("transpose", "there is no chart here to be transposed".into()));
        }
        if self.intro.is_some() && self.chart.is_none() {
            faults.push(("intro", "there is no chart here that it could go before".into()));
        }
        let told = |read: Option<Result<(), String>>| read.and_then(Result::err);
        let text = |text: &Option<String>| text.clone();
        let read = [
            ("metre", told(text(&self.metre).map(|t| metre(&t).map(|_| ())))),
            ("key", told(text(&self.key).map(|t| key_choice(&t).map(|_| ())))),
            ("split", told(text(&self.split).map(|t| key_number(&t).map(|_| ())))),
        ];
        faults.extend(read.into_iter().filter_map(|(word, fault)| Some((word, fault?))));
        faults
    }
}

impl SetupWords {
    /// These words, and where they are silent those of `file`.
    #[must_use]
    pub fn over(self, file: Self) -> Self {
        let map = file.map.iter().chain(&self.map).copied().collect();
        let mut words = file.said();
        words.extend(self.said());
        // They were read as words, and so they can be again.
        let words = serde_json::from_value(words.into()).unwrap_or_default();
        Self { map, soundfont: self.soundfont.or(file.soundfont), ..words }
    }

    /// Each word that is said, by its name; but for the path, which need be no text.
    pub(super) fn said(&self) -> serde_json::Map<String, Value> {
        let words = serde_json::to_value(Self { soundfont: None, ..self.clone() });
        let Ok(Value::Object(mut words)) = words else { return serde_json::Map::new() };
        words.retain(|_, value| !value.is_null());
        words
    }
}

fn tempo(text: &str) -> Result<f64, String> {
    let tempo: f64 = text.parse().map_err(|_| format!("no tempo: `{text}`"))?;
    let range = crate::bridge::time::TEMPOS;
    range.contains(&tempo).then_some(tempo).ok_or_else(|| "a tempo is 20 to 400".to_owned())
}

/// A line of words in TOML, as between the braces of an inline table; `like`
/// is one that is right.
fn line<T: serde::de::DeserializeOwned>(text: &str, like: &str) -> Result<T, String> {
    #[derive(Deserialize)]
    struct SetupLine<T> {
        line: T,
    }
    let line = format!("line = {{ {text} }}");
    let fault = match toml::from_str::<SetupLine<T>>(&line) {
        Ok(read) => return Ok(read.line),
        // What the grammar misses says nothing to who does not know it.
        Err(_) if line.parse::<toml::Table>().is_err() => "cannot be read".to_owned(),
        Err(e) => e.message().to_owned(),
    };
    Err(format!("{fault}; it is written like: {like}"))
}

fn mapping(text: &str) -> Result<Mapping, String> {
    let mapping: Mapping = line(text, r#"do = "tap", control = 66"#)?;
    mapping.trigger.fault().map_or(Ok(mapping), Err)
}

fn zone(text: &str) -> Result<ZoneWords, String> {
    let zone: ZoneWords = line(text, r#"hand = "left", channel = 2, octave = -1"#)?;
    match zone.faults().into_iter().next() {
        Some((word, fault)) => Err(format!("{word}: {fault}")),
        None => Ok(zone),
    }
}

fn entry(text: &str) -> Result<EntryWords, String> {
    line(text, r#"name = "Waltz", pattern = "waltz", metre = "3/4""#)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_that_is_wrong_is_answered_with_one_that_is_right() {
        for wrong in ["foo", "do = tap, control = 66", "do = \"tapp\", control = 66", "control = 3"]
        {
            let told = mapping(wrong).expect_err(wrong);
            assert!(told.ends_with(r#"; it is written like: do = "tap", control = 66"#), "{told}");
        }
        assert!(mapping(r#"do = "tap", control = 66"#).is_ok());
        assert!(entry("Waltz").expect_err("no words").starts_with("cannot be read; "));
    }

    #[test]
    fn what_makes_no_sense_in_an_entry_is_told_by_its_word() {
        let words = EntryWords {
            busy: Some(101),
            bank: Some(20_000),
            transpose: Some(3),
            split: Some("H9".into()),
            ..EntryWords::default()
        };
        let told: Vec<_> = words.faults().into_iter().map(|(word, _)| word).collect();
        assert_eq!(told, ["busy", "bank", "bank", "transpose", "split"]);
        assert!(EntryWords::default().faults().is_empty());
    }
}
