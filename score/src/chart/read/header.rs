//! The settings at the top of a chart: `name: value`.

use super::{ChartReader, TextPiece};
use crate::chart::read_key;
use sinistra_core::time::Metre;

/// Slowest and fastest, in felt beats a minute.
const TEMPOS: std::ops::RangeInclusive<f64> = 20.0..=400.0;

/// `name: value`, or `None` if the line is something else.
pub(super) fn split(line: TextPiece<'_>) -> Option<(TextPiece<'_>, TextPiece<'_>)> {
    let colon = line.text.find(':')?;
    let (name, value) = (line.cut(0, colon), line.skip(colon + 1));
    let word = |c: char| c.is_alphabetic() || c == '-';
    let is_name = !name.text.is_empty() && name.text.chars().all(word);
    (is_name && !value.text.starts_with('|')).then_some((name, value.trim()))
}

/// `4/4`, or `None`.
pub(super) fn metre(text: &str) -> Option<Metre> {
    let (beats, unit) = text.split_once('/')?;
    Metre::new(beats.parse().ok()?, unit.parse().ok()?)
}

impl ChartReader<'_> {
    pub(super) fn header(&mut self, name: TextPiece<'_>, value: TextPiece<'_>) {
        const NAMES: &str = "settings are title, key, metre, tempo, swing and pick-up";
        let known = match name.text.to_lowercase().as_str() {
            "title" => "title",
            "key" => "key",
            "metre" | "meter" | "time" => "metre",
            "tempo" => "tempo",
            "swing" => "swing",
            "pick-up" | "pickup" => "pick-up",
            _ => return self.fault_at(name, format!("no setting `{}`", name.text), NAMES),
        };
        if self.named.contains(&known) {
            return self.fault_at(name, format!("`{known}` for the second time"), "keep one");
        }
        self.named.push(known);
        if !self.draft.bars.is_empty() {
            let hint = match known {
                "metre" => "inside a song a metre stands at the start of its bar: `| 3/4 C |`",
                _ => "settings stand above the first bar",
            };
            return self.fault_at(name, format!("`{known}` behind the first bar"), hint);
        }
        if known == "title" {
            // A title may have anything in it, `#` too.
            self.draft.title = value.text.chars().filter(|c| !c.is_control()).collect();
            return;
        }
        let value = value.without_comment().trim();
        match known {
            "key" => match read_key(value.text) {
                Some(key) => self.draft.key = Some(key),
                None => self.wrong("key", value, "keys are such as C, Bb, F#m or A minor"),
            },
            "metre" => match metre(value.text) {
                Some(metre) => self.draft.metre = metre,
                None => self.wrong("metre", value, "metres are such as 4/4, 3/4 or 12/8"),
            },
            "tempo" => match number(value.text, "bpm").filter(|tempo| TEMPOS.contains(tempo)) {
                Some(tempo) => self.draft.tempo = Some(tempo),
                None => self.wrong("tempo", value, "20 to 400 felt beats a minute"),
            },
            "swing" => match number(value.text, "%") {
                Some(swing) if (50.0..=75.0).contains(&swing) && swing.fract() == 0.0 => {
                    self.draft.swing = Some(swing as u8);
                }
                _ => self.wrong("swing", value, "50 (straight) to 75; 67 is triplets"),
            },
            _ => {
                let beats = value.text.trim_end_matches("beats").trim_end_matches("beat").trim();
                match beats.parse::<u8>() {
                    Ok(units) if units > 0 => {
                        self.draft.pick_up = Some(units);
                        self.pick_up_at = Some((value.at, value.at + value.text.len()));
                    }
                    _ => self.wrong("pick-up", value, "so many beats as the first bar has"),
                }
            }
        }
    }

    fn wrong(&mut self, name: &str, value: TextPiece<'_>, hint: &str) {
        self.fault_at(value, format!("no {name} `{}`", value.text), hint);
    }

    /// A pick-up is shorter than a bar, whichever line came first.
    pub(super) fn check_pick_up(&mut self) {
        let beats = self.draft.metre.beats();
        if let Some((from, to)) = self.pick_up_at
            && self.draft.pick_up.is_some_and(|units| units >= beats)
        {
            let hint = format!("a bar has {beats} beats here; a pick-up has fewer");
            self.fault(from, to, "a pick-up as long as a bar", hint);
            self.draft.pick_up = None;
        }
    }
}

/// A number, perhaps with its unit behind it.
fn number(text: &str, unit: &str) -> Option<f64> {
    let plain = |c: char| c.is_ascii_digit() || c == '.';
    let text = text.strip_suffix(unit).unwrap_or(text).trim();
    text.chars().all(plain).then(|| text.parse().ok()).flatten()
}
