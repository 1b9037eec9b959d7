//! From words to what the stage takes; everything wrong is said at once.

use serde_json::Value;
use sinistra_core::engine::{KeyChoice, Settings};
use sinistra_core::pitch::KeyNumber;
use sinistra_core::time::Metre;

use super::words::SetupWords;
use crate::bridge::controls::Map;
use crate::bridge::stage::StageOptions;
use crate::bridge::time::PaceChoice;
use crate::bridge::zones;
use crate::options::{key_choice, key_number, metre};

/// Reads every word.
///
/// # Errors
/// A line for each wrong one.
pub fn resolve(words: &SetupWords) -> Result<StageOptions, String> {
    let mut wrong = Vec::new();
    let mut read = SetupReader { wrong: &mut wrong };
    read.ranges(words);
    let settings = read.settings(words);
    if !words.chart.is_empty() && !words.entry.is_empty() {
        read.wrong.push(
            "chart: the entries of the set name their charts; leave out the one or the other"
                .into(),
        );
    }
    for module in words.zone.iter().filter_map(|zone| zone.to.as_ref()) {
        if !words.to.contains(module) {
            read.wrong.push(format!("zone: {module} is not sent to; name it under `to` as well"));
        }
    }
    if words.zone.len() > zones::MOST {
        read.wrong.push(format!("zone: at most {} zones", zones::MOST));
    }
    if settings.lowest > settings.highest {
        read.wrong.push("lowest: it lies above highest".into());
    }
    let time = PaceChoice {
        source: words.clock.unwrap_or_default(),
        start: words.start.unwrap_or_default(),
        tempo: words.tempo.unwrap_or(PaceChoice::default().tempo),
        metre: read.word("metre", words.metre.as_deref(), Metre::COMMON, metre),
        count_in: words.count_in.unwrap_or(PaceChoice::default().count_in),
        rest_after: words.rest_after.unwrap_or(PaceChoice::default().rest_after),
    };
    if !crate::bridge::time::TEMPOS.contains(&time.tempo) {
        read.wrong.push("tempo: a tempo is 20 to 400".into());
    }
    let options = StageOptions {
        settings,
        time,
        left: words.left.unwrap_or_default(),
        clicks: words.click.unwrap_or_default(),
        click_channel: words.click_channel.map_or(9, |channel| channel.saturating_sub(1) & 15),
        click_loudness: words.click_loudness.unwrap_or(100),
        clock_out: words.clock_out,
        listen: words.listen.iter().fold(0, |bits, c| bits | 1 << (c.saturating_sub(1) & 15)),
        map: Map::new(&words.map),
        log: None,
    };
    if wrong.is_empty() { Ok(options) } else { Err(wrong.join("\n")) }
}

/// Words that are a whole number, the least and the most.
pub(super) const RANGES: [(&str, u8, u8); 17] = [
    ("volume", 0, 100),
    ("busy", 0, 100),
    ("variety", 0, 100),
    ("swing", 50, 75),
    ("length", 10, 100),
    ("loose", 0, 100),
    ("loudness", 20, 150),
    ("reach", 0, 24),
    ("wait", 0, 150),
    ("certainty", 0, 100),
    ("count-in", 0, 8),
    ("rest-after", 0, 64),
    ("hold-bars", 0, 64),
    ("channel", 1, 16),
    ("click-channel", 1, 16),
    ("click-loudness", 0, 120),
    ("listen", 1, 16),
];

struct SetupReader<'a> {
    wrong: &'a mut Vec<String>,
}

impl SetupReader<'_> {
    /// The command line has checked its own; a file has not been checked.
    fn ranges(&mut self, words: &SetupWords) {
        let words = words.said();
        for (name, low, high) in RANGES {
            let said = words.get(name).into_iter();
            let numbers = said.flat_map(|said| match said {
                Value::Array(all) => all.as_slice(),
                one => std::slice::from_ref(one),
            });
            for value in numbers.filter_map(Value::as_u64) {
                if !(low.into()..=high.into()).contains(&value) {
                    self.wrong.push(format!("{name}: it is {low} to {high}"));
                }
            }
        }
    }

    fn settings(&mut self, words: &SetupWords) -> Settings {
        let usual = Settings::default();
        let percent = |value: Option<u8>, usual: f32| value.map_or(usual, |v| f32::from(v) / 100.0);
        Settings {
            split: self.key_number("split", words.split.as_deref(), usual.split),
            busy: words.busy.unwrap_or(usual.busy),
            variety: words.variety.unwrap_or(usual.variety),
            swing: percent(words.swing, usual.swing),
            length: percent(words.length, usual.length),
            loose: percent(words.loose, usual.loose),
            pedal: words.sustain.unwrap_or(usual.pedal),
            loudness: percent(words.loudness, usual.loudness),
            lowest: self.key_number("lowest", words.lowest.as_deref(), usual.lowest),
            highest: self.key_number("highest", words.highest.as_deref(), usual.highest),
            reach: words.reach.unwrap_or(usual.reach),
            window_ms: words.window.map_or(usual.window_ms, f32::from),
            certainty: percent(words.certainty, usual.certainty),
            key: self.word("key", words.key.as_deref(), KeyChoice::Auto, key_choice),
            channel: words.channel.map(|channel| channel.saturating_sub(1)),
            seed: words.seed.unwrap_or(usual.seed),
            hold_bars: words.hold_bars.unwrap_or(usual.hold_bars),
            plays: true,
        }
    }

    fn word<T>(
        &mut self,
        name: &str,
        text: Option<&str>,
        usual: T,
        read: impl Fn(&str) -> Result<T, String>,
    ) -> T {
        match text.map(read) {
            None => usual,
            Some(Ok(value)) => value,
            Some(Err(fault)) => {
                self.wrong.push(format!("{name}: {fault}"));
                usual
            }
        }
    }

    fn key_number(&mut self, name: &str, text: Option<&str>, usual: KeyNumber) -> KeyNumber {
        self.word(name, text, usual, key_number)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_wrong_word_is_told() {
        let words = SetupWords {
            split: Some("H4".into()),
            metre: Some("4/3".into()),
            key: Some("Q".into()),
            ..SetupWords::default()
        };
        let told = resolve(&words).expect_err("wrong");
        let names: Vec<_> = told.lines().map(|l| l.split(':').next().unwrap_or("")).collect();
        assert_eq!(names, ["split", "key", "metre"]);
    }

    #[test]
    fn a_chart_beside_entries_is_refused_and_not_ignored() {
        let entry = vec![crate::bridge::setup::EntryWords::default()];
        let words =
            SetupWords { chart: vec!["lantern-street".into()], entry, ..SetupWords::default() };
        let told = resolve(&words).expect_err("one excludes the other");
        assert!(told.starts_with("chart: the entries of the set name their charts"), "{told}");
    }

    #[test]
    fn channels_are_counted_from_1() {
        let words = SetupWords { channel: Some(16), listen: vec![1, 10], ..SetupWords::default() };
        let options = resolve(&words).expect("options");
        assert_eq!((options.settings.channel, options.listen), (Some(15), 0b10_0000_0001));
    }
}
