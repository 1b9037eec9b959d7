//! The text of a value, and the value of a text: hosts ask for both.

use super::{Control, ControlScale, Spec};
use sinistra_core::key::{Key, Mode};
use sinistra_core::pitch::{KeyNumber, PitchClass, Spelled};

impl Control {
    /// As a host shows it, plain ASCII; `pattern` names the pattern of a number.
    pub fn show(self, value: i32, pattern: impl Fn(i32) -> String) -> String {
        let spec = self.spec();
        match spec.scale {
            ControlScale::Switch => if value == 0 { "Off" } else { "On" }.into(),
            ControlScale::Number("") => value.to_string(),
            ControlScale::Number(unit) => format!("{value} {}", singular(unit, value)),
            ControlScale::Beats => match value {
                0 => "Off".into(),
                1 => "1 beat".into(),
                _ => format!("{value} beats"),
            },
            ControlScale::KeyNumber => key_name(KeyNumber::clamped(value)),
            ControlScale::Key if value == 0 => "From the music".into(),
            ControlScale::Key => key_text(value),
            ControlScale::Channel if value == 0 => "Right hand's".into(),
            ControlScale::Channel => format!("Channel {value}"),
            ControlScale::Pattern => pattern(value),
        }
    }

    /// The value of a text that [`Self::show`] wrote or a player typed; `None`
    /// if it makes no sense.
    pub fn read(self, text: &str, pattern: impl Fn(i32) -> String) -> Option<i32> {
        let spec = self.spec();
        let text = text.trim();
        let shown = |value: &i32| self.show(*value, &pattern).eq_ignore_ascii_case(text);
        let all = || spec.min..=spec.max;
        all().find(shown).or_else(|| spec.typed(text)).or_else(|| {
            // A pattern by a part of its name.
            let part = text.to_ascii_lowercase();
            let names = |value: &i32| pattern(*value).to_ascii_lowercase().contains(&part);
            all().find(names).filter(|_| spec.scale == ControlScale::Pattern && !part.is_empty())
        })
    }
}

impl Spec {
    /// What a player may type beside the exact text.
    fn typed(&self, text: &str) -> Option<i32> {
        match self.scale {
            ControlScale::KeyNumber => {
                let key = KeyNumber::read(text).map(|key| key.number().into());
                key.or_else(|| text.parse().ok()).map(|number| self.clamp(number))
            }
            ControlScale::Switch => switch(text),
            ControlScale::Key => {
                key(text).or_else(|| number_before_unit(text).map(|n| self.clamp(n)))
            }
            ControlScale::Channel => channel(text).map(|value| self.clamp(value)),
            ControlScale::Beats if is_one_of(text, &["no", "none", "false"]) => Some(0),
            _ => number_before_unit(text).map(|value| self.clamp(value)),
        }
    }
}

/// `1 bars` reads badly.
fn singular(unit: &'static str, value: i32) -> &'static str {
    match (unit, value) {
        ("bars", 1) => "bar",
        _ => unit,
    }
}

fn is_one_of(text: &str, words: &[&str]) -> bool {
    words.iter().any(|word| word.eq_ignore_ascii_case(text))
}

/// `on`, `true`, `yes`, `1`, and their opposites.
fn switch(text: &str) -> Option<i32> {
    if is_one_of(text, &["on", "true", "yes"]) {
        return Some(1);
    }
    if is_one_of(text, &["off", "false", "no"]) {
        return Some(0);
    }
    number_before_unit(text).map(|number| (number != 0).into())
}

/// `G`, `G major`, `Em`, `E minor`, `e min`, `B♭`, `auto`.
fn key(text: &str) -> Option<i32> {
    if is_one_of(text, &["auto", "from the music", "music", "none"]) {
        return Some(0);
    }
    let (name, mode) = Spelled::read(text)?;
    let minor = match mode.trim() {
        "" | "M" => false,
        "m" => true,
        word if is_one_of(word, &["major", "maj", "dur"]) => false,
        word if is_one_of(word, &["minor", "min", "moll"]) => true,
        _ => return None,
    };
    let tonic = (name.letter.semitones() + i32::from(name.alter)).rem_euclid(12);
    Some(if minor { 13 } else { 1 } + tonic)
}

/// `3`, `ch 16`, `channel 3`, `right hand's`, `auto`.
fn channel(text: &str) -> Option<i32> {
    if is_one_of(text, &["auto", "same", "right hand", "off"]) {
        return Some(0);
    }
    let lower = text.to_ascii_lowercase();
    let number = ["channel", "chan.", "chan", "ch.", "ch"]
        .iter()
        .find_map(|word| lower.strip_prefix(word))
        .unwrap_or(&lower);
    number_before_unit(number.trim())
}

/// `85`, `85 %`, `85.4 %` (to the nearest).
fn number_before_unit(text: &str) -> Option<i32> {
    let end = text
        .find(|c: char| !c.is_ascii_digit() && !matches!(c, '-' | '+' | '.'))
        .unwrap_or(text.len());
    let number: f64 = text[..end].parse().ok()?;
    (number.abs() < 1e6).then(|| number.round() as i32)
}

/// Scientific pitch notation with flats for the black keys that are more
/// often flat (E♭, B♭, A♭), in ASCII: `C4` is middle C.
fn key_name(key: KeyNumber) -> String {
    const NAMES: [&str; 12] = ["C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"];
    format!("{}{}", NAMES[key.class().index()], key.octave())
}

/// `C major`, `F# minor`.
fn key_text(value: i32) -> String {
    let mode = if value <= 12 { Mode::Major } else { Mode::Minor };
    let key = Key { tonic: PitchClass::new(value - 1), mode };
    let word = if mode == Mode::Major { "major" } else { "minor" };
    format!("{} {word}", key.spell(key.tonic).ascii())
}

#[cfg(test)]
mod tests {
    use super::super::ALL;
    use super::*;

    fn pattern(value: i32) -> String {
        format!("Pattern {value}")
    }

    #[test]
    fn every_value_of_every_control_reads_back() {
        for control in ALL {
            let spec = control.spec();
            for value in spec.min..=spec.max {
                let text = control.show(value, pattern);
                assert_eq!(control.read(&text, pattern), Some(value), "{}: {text}", spec.name);
            }
        }
    }

    #[test]
    fn players_may_type_less_than_the_whole_text() {
        for (control, text, value) in [
            (Control::Split, "c#4", Some(61)),
            (Control::Split, "Db4", Some(61)),
            (Control::Split, "B♭3", Some(58)),
            (Control::Split, "Cb4", Some(59)), // the key below C4, though its octave is 4
            (Control::Split, "60", Some(60)),
            (Control::Split, "H3", None),
            (Control::Busy, "70", Some(70)),
            (Control::Busy, "69.6%", Some(70)),
            (Control::Busy, "700", Some(100)),
            (Control::Busy, "a lot", None),
            (Control::Hold, "2 bars", Some(2)),
            (Control::Channel, "3", Some(3)),
            (Control::Ahead, "off", Some(0)),
            (Control::Ahead, "2 beats", Some(2)),
            (Control::Ahead, "1", Some(1)),
            (Control::Through, "off", Some(0)),
            (Control::Through, "true", Some(1)),
            (Control::Through, "No", Some(0)),
            (Control::Through, "perhaps", None),
            (Control::Ahead, "no", Some(0)),
            (Control::Key, "G", Some(8)),
            (Control::Key, "Em", Some(17)),
            (Control::Key, "Bb", Some(11)),
            (Control::Key, "B♭ minor", Some(23)),
            (Control::Key, "e moll", Some(17)),
            (Control::Key, "f# min", Some(19)),
            (Control::Key, "auto", Some(0)),
            (Control::Key, "Gloomy", None),
            (Control::Channel, "ch 16", Some(16)),
            (Control::Channel, "Channel 2", Some(2)),
            (Control::Channel, "auto", Some(0)),
            (Control::Channel, "many", None),
            (Control::Pattern, "n 12", Some(12)),
            (Control::Pattern, "no such", None),
        ] {
            assert_eq!(control.read(text, pattern), value, "{text}");
        }
    }

    #[test]
    fn ids_are_short_and_each_is_used_once() {
        let mut ids: Vec<_> = ALL.iter().map(|control| control.spec().id).collect();
        assert!(ids.iter().all(|id| (1..=6).contains(&id.len())));
        ids.sort_unstable();
        ids.dedup();
        assert_eq!(ids.len(), ALL.len());
    }
}
