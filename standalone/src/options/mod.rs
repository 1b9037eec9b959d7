//! Options about the left hand that several commands share.

mod number;

use sinistra_core::engine::{KeyChoice, Settings};
use sinistra_core::key::{Mode, WrittenKey};
use sinistra_core::pitch::KeyNumber;
use sinistra_core::time::Metre;
use sinistra_score::Chart;
use sinistra_score::chart::{key_name, key_words, read_written_key};

use crate::failure::Failure;
pub use number::{decimal, tempo, whole};

/// How the left hand plays: the same in every command that plays.
#[derive(clap::Args, Clone, Debug)]
pub struct HandOptions {
    /// The key of the song, such as C, Bb, F#m; auto takes the chart's, or hears it
    #[arg(long, value_name = "KEY", default_value = "auto", value_parser = key_wish)]
    pub key: KeyWish,
    /// The lowest key of the right hand, such as C4 or 60
    #[arg(long, value_name = "KEY", default_value = "C4", value_parser = key_number)]
    pub split: KeyNumber,
    /// Sparing 0 to 100 busy; 50 is the pattern as written
    #[arg(long, value_name = "0..100", default_value_t = 50, value_parser = whole::<u8>(0, 100))]
    pub busy: u8,
    /// One figure 0 to 100 many, where the left hand improvises; 50 is as pianists do
    #[arg(long, value_name = "0..100", default_value_t = 50, value_parser = whole::<u8>(0, 100))]
    pub variety: u8,
    /// Where the "and" falls in its beat, in percent: 50 straight, 67 triplets
    /// [default: the chart's]
    #[arg(long, value_name = "50..75", value_parser = whole::<u8>(50, 75))]
    pub swing: Option<u8>,
    /// Length of the notes, in percent: 10 detached, 100 joined
    #[arg(long, value_name = "10..100", default_value_t = 90, value_parser = whole::<u8>(10, 100))]
    pub length: u8,
    /// How far notes are spread in time and loudness, in percent: 0 exact
    #[arg(long, value_name = "0..100", default_value_t = 0, value_parser = whole::<u8>(0, 100))]
    pub loose: u8,
    /// The left hand takes the sustain pedal, changed with each chord [default: off,
    /// on in perform]
    #[arg(long, value_name = "on|off", num_args = 0..=1, default_missing_value = "on",
          value_parser = on_or_off)]
    pub sustain: Option<bool>,
    /// The lowest key of the left hand
    #[arg(long, value_name = "KEY", default_value = "E1", value_parser = key_number)]
    pub lowest: KeyNumber,
    /// The highest key of the left hand
    #[arg(long, value_name = "KEY", default_value = "B3", value_parser = key_number)]
    pub highest: KeyNumber,
    /// The widest struck span, in semitones
    #[arg(long, value_name = "SEMITONES", default_value_t = 12, value_parser = whole::<u8>(0, 24))]
    pub reach: u8,
    /// Chooses among variations; the same number plays the same
    #[arg(long, value_name = "N", default_value_t = 1, value_parser = whole::<u64>(0, i64::MAX))]
    pub seed: u64,
}

/// What `--key` asks for, as it is to be written: F♯ is not G♭.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum KeyWish {
    /// The chart's, or as it is heard.
    Auto,
    /// This one.
    Named(WrittenKey),
}

impl KeyWish {
    /// As the engine takes it.
    pub fn choice(self) -> KeyChoice {
        self.named().map_or(KeyChoice::Auto, |key| KeyChoice::Fixed(key.key()))
    }

    /// The key, if one is named.
    pub const fn named(self) -> Option<WrittenKey> {
        match self {
            Self::Auto => None,
            Self::Named(key) => Some(key),
        }
    }
}

impl HandOptions {
    /// As the engine takes them; `chart` says the swing where the player does
    /// not.
    ///
    /// # Errors
    /// If there is no key between the lowest and the highest.
    pub fn settings(&self, chart: Option<&Chart>) -> Result<Settings, Failure> {
        if self.lowest > self.highest {
            return Err(Failure::Input("--lowest: it lies above --highest".to_owned()));
        }
        let written = chart.and_then(|chart| chart.draft().swing);
        Ok(Settings {
            split: self.split,
            busy: self.busy,
            variety: self.variety,
            swing: f32::from(self.swing.or(written).unwrap_or(50)) / 100.0,
            length: f32::from(self.length) / 100.0,
            loose: f32::from(self.loose) / 100.0,
            pedal: self.sustain.unwrap_or(false),
            lowest: self.lowest,
            highest: self.highest,
            reach: self.reach,
            key: self.key.choice(),
            seed: self.seed,
            ..Settings::default()
        })
    }
}

/// The chart in `to`, if it is not there already.
///
/// # Errors
/// If it is of the other mode.
pub fn in_key(chart: Chart, to: Option<WrittenKey>) -> Result<Chart, Failure> {
    let (from, Some(to)) = (chart.written_key(), to) else { return Ok(chart) };
    if from == to {
        return Ok(chart);
    }
    chart.transpose(to).ok_or_else(|| {
        Failure::Input(format!(
            "--key {}: the chart is in {}, and major does not become minor by transposing\n\
             hint: name a {} key",
            key_name(to),
            key_words(from),
            if from.key().mode == Mode::Minor { "minor" } else { "major" },
        ))
    })
}

/// `on` or `off`.
///
/// # Errors
/// With what would be right.
pub fn on_or_off(text: &str) -> Result<bool, String> {
    match text {
        "on" | "true" => Ok(true),
        "off" | "false" => Ok(false),
        _ => Err("it is on or off".to_owned()),
    }
}

/// `C4`, `Bb3` (C4 is middle C, key 60) or a MIDI key number.
///
/// # Errors
/// With what would be right.
pub fn key_number(text: &str) -> Result<KeyNumber, String> {
    let wrong = || format!("no key of the keyboard: `{text}` (write C4, Bb3, F#2 or 0 to 127)");
    KeyNumber::read(text).ok_or_else(wrong)
}

/// `auto`, or a key as it is to be written.
///
/// # Errors
/// With what would be right.
pub fn key_wish(text: &str) -> Result<KeyWish, String> {
    if text.eq_ignore_ascii_case("auto") {
        return Ok(KeyWish::Auto);
    }
    written_key(text).map(KeyWish::Named)
}

/// `auto`, or a key.
///
/// # Errors
/// With what would be right.
pub fn key_choice(text: &str) -> Result<KeyChoice, String> {
    key_wish(text).map(KeyWish::choice)
}

/// `C`, `Bb`, `F#m`, `a minor`, `E♭ major`, to be written as it is named: F♯ is
/// not G♭.
///
/// # Errors
/// With what would be right.
pub fn written_key(text: &str) -> Result<WrittenKey, String> {
    let wrong = || format!("no key: `{text}` (write C, Bb, F#m, \"A minor\", or auto)");
    read_written_key(text).ok_or_else(wrong)
}

/// `4/4`, `6/8`.
///
/// # Errors
/// With what would be right.
pub fn metre(text: &str) -> Result<Metre, String> {
    let read = || {
        let (beats, unit) = text.trim().split_once('/')?;
        Metre::new(beats.trim().parse().ok()?, unit.trim().parse().ok()?)
    };
    read().ok_or_else(|| format!("no metre: `{text}` (write 4/4, 3/4, 6/8)"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use sinistra_core::key::Mode;

    #[test]
    fn keys_are_read_by_name_and_number() {
        for (text, number) in [("C4", 60), ("60", 60), ("Bb3", 58), ("B#3", 60), ("C-1", 0)] {
            assert_eq!(key_number(text).unwrap().number(), number, "{text}");
        }
        for text in ["H4", "C", "128", "C12", "-1", ""] {
            assert!(key_number(text).is_err(), "{text}");
        }
    }

    #[test]
    fn keys_of_songs_are_read_in_words_and_short() {
        for (text, tonic, mode) in
            [("F#m", 6, Mode::Minor), ("Bb", 10, Mode::Major), ("A minor", 9, Mode::Minor)]
        {
            let read = written_key(text).unwrap().key();
            assert_eq!((read.tonic.index(), read.mode), (tonic, mode), "{text}");
        }
        assert!(written_key("X").is_err());
    }
}
