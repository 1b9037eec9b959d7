//! `sinistra foresee`: a chord a line in, a forecast a line out.

use std::io::{BufRead, Write};

use serde::Serialize;
use sinistra_core::chord::{Symbol, read_symbol};
use sinistra_core::foresee::{Forecast, Foresight};
use sinistra_core::key::Key;
use sinistra_core::time::{Metre, Place, Ticks};

use super::lines::{fault, line_by_line, told};
use crate::failure::Failure;
use crate::options;

/// Say what comes next after each chord, a line each
///
/// Reads `BEAT SYMBOL` lines: when the chord is struck, in quarter notes from
/// the first bar line, and its symbol (`-` for none). After each line it says
/// what comes after it, before it reads the next. A blank line begins a new song.
#[derive(clap::Args)]
pub struct ForeseeArgs {
    /// The metre of the song
    #[arg(long, value_name = "METRE", default_value = "4/4", value_parser = options::metre)]
    metre: Metre,
    /// The key of the song; without it the key is heard from the chords
    #[arg(long, value_name = "KEY", value_parser = options::key_choice, default_value = "auto")]
    key: sinistra_core::engine::KeyChoice,
    /// A JSON object a line
    #[arg(long)]
    json: bool,
}

/// One line of the answer. Beats are quarter notes.
#[derive(Serialize)]
struct ForecastLine {
    /// The beat that was given.
    beat: f64,
    /// The root that comes, C = 0; null while nothing was heard.
    root_pc: Option<usize>,
    symbol: Option<String>,
    /// From the given beat.
    in_beats: Option<f64>,
    /// How sure the root is.
    certainty: f32,
    source: Option<&'static str>,
    /// What else may come, and how sure its root is; empty if nothing is worth a word.
    alternatives: Vec<String>,
    alternative_certainties: Vec<f32>,
    /// Odds of each root, C first.
    odds: [f32; 12],
}

/// Runs the command.
pub fn run(args: ForeseeArgs) -> Result<(), Failure> {
    answer(&args, std::io::stdin().lock(), std::io::stdout().lock())
}

fn answer(args: &ForeseeArgs, input: impl BufRead, output: impl Write) -> Result<(), Failure> {
    let mut song = ToldSong::new(args);
    line_by_line(input, output, |text, number| {
        if text.trim().is_empty() {
            song = ToldSong::new(args);
            return Ok(None);
        }
        let said = song.hear(text, number)?;
        told(args.json, &said, said.readable()).map(Some)
    })
}

/// One song as it is told.
struct ToldSong {
    foresight: Foresight,
    metre: Metre,
    key: Option<Key>,
    last: Option<f64>,
}

impl ToldSong {
    fn new(args: &ForeseeArgs) -> Self {
        let key = match args.key {
            sinistra_core::engine::KeyChoice::Fixed(key) => Some(key),
            sinistra_core::engine::KeyChoice::Auto => None,
        };
        Self { foresight: Foresight::new(), metre: args.metre, key, last: None }
    }

    fn hear(&mut self, text: &str, number: usize) -> Result<ForecastLine, Failure> {
        let (beat, chord) = self.read(text, number)?;
        let at = Ticks::nearest(beat);
        let place = Place::first(self.metre).of(at);
        match chord {
            Some(symbol) => self.foresight.chord_started(at, symbol.chord(), place),
            None => self.foresight.chord_ended(at),
        }
        self.last = Some(beat);
        let next = self.foresight.forecast(at, place, self.key, None, false);
        Ok(self.tell(beat, at, next))
    }

    /// The beat and the chord of a line.
    fn read(&self, text: &str, number: usize) -> Result<(f64, Option<Symbol>), Failure> {
        const HINT: &str = "a line is a beat and a chord symbol, such as `8 Bbmaj7` or `12.5 -`";
        let mut words = words(text);
        let wrong =
            |from: usize, to: usize, what: String| Err(fault(text, number, from..to, what, HINT));
        let Some((from, first)) = words.next() else { return wrong(0, 0, "no beat".into()) };
        let to = from + first.len();
        let beat = match first.parse::<f64>() {
            Ok(beat) if beat.abs() <= 1e9 => beat,
            _ => return wrong(from, to, format!("`{first}` is no beat")),
        };
        if let Some(last) = self.last.filter(|last| *last >= beat) {
            let what = format!("beat {first} does not come after beat {last}");
            let hint = "chords come in the order of their beats; a blank line begins a new song";
            return Err(fault(text, number, from..to, what, hint));
        }
        let Some((from, name)) = words.next() else {
            return wrong(text.len(), text.len(), "no chord after the beat".into());
        };
        if let Some((extra, word)) = words.next() {
            return wrong(extra, extra + word.len(), format!("`{word}` after the chord"));
        }
        if matches!(name, "-" | "–" | "—") {
            return Ok((beat, None));
        }
        let symbol = read_symbol(name).map_err(|wrong| {
            let at = from + wrong.from..from + wrong.to;
            fault(text, number, at, wrong.what, wrong.hint)
        })?;
        Ok((beat, symbol))
    }

    fn tell(&self, beat: f64, at: Ticks, next: Option<Forecast>) -> ForecastLine {
        let key = self.key.unwrap_or_else(|| self.foresight.key());
        let other = || next.into_iter().filter_map(|next| next.other);
        ForecastLine {
            beat,
            root_pc: next.map(|next| next.chord.root.index()),
            symbol: next.map(|next| Symbol::of(next.chord, key).ascii()),
            in_beats: next.map(|next| (next.at - at).beats()),
            certainty: next.map_or(0.0, |next| next.certainty),
            source: next.map(|next| next.source.name()),
            alternatives: other().map(|other| Symbol::of(other.chord, key).ascii()).collect(),
            alternative_certainties: other().map(|other| other.certainty).collect(),
            odds: next.map_or([1.0 / 12.0; 12], |_| *self.foresight.odds()),
        }
    }
}

impl ForecastLine {
    fn readable(&self) -> String {
        match (&self.symbol, self.in_beats, self.source) {
            (Some(symbol), Some(beats), Some(source)) => {
                let sure = self.certainty * 100.0;
                let mut text = format!("{:<8} then {symbol}", self.beat);
                let mut sure = format!("{sure:.0}");
                let others = self.alternatives.iter().zip(&self.alternative_certainties);
                for (symbol, certainty) in others {
                    text += &format!(", or {symbol}");
                    sure += &format!(" / {:.0}", certainty * 100.0);
                }
                format!("{text} in {beats} ({sure} %, {source})")
            }
            _ => format!("{:<8} nothing to go by yet", self.beat),
        }
    }
}

/// The words of a line with where they start, in bytes.
fn words(text: &str) -> impl Iterator<Item = (usize, &str)> {
    let start = text.as_ptr() as usize;
    text.split_whitespace().map(move |word| (word.as_ptr() as usize - start, word))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(options: &[&str], input: &str) -> Result<Vec<String>, String> {
        crate::commands::told(options, |args: &ForeseeArgs, output| {
            answer(args, input.as_bytes(), output)
        })
    }

    #[test]
    fn the_second_round_is_foreseen() {
        let round = ["Bbmaj7", "Gm", "Eb", "F7"];
        let mut input = String::new();
        for bar in 0..9 {
            input += &format!("{} {}\n", bar * 4, round[bar % 4]);
        }
        let lines = told(&["--json"], &input).unwrap();
        assert_eq!(lines.len(), 9);
        let last: serde_json::Value = serde_json::from_str(&lines[8]).unwrap();
        assert_eq!(last["beat"], 32.0);
        assert_eq!(last["root_pc"], 7);
        assert_eq!(last["symbol"], "Gm");
        assert_eq!(last["in_beats"], 4.0);
        assert_eq!(last["source"], "memory");
        let odds: Vec<f64> = serde_json::from_value(last["odds"].clone()).unwrap();
        assert!((odds.iter().sum::<f64>() - 1.0).abs() < 1e-4);
        assert!(odds[10].abs() < 1e-9, "B flat is the chord now");
        assert!(told(&[], &input).unwrap()[8].starts_with("32       then Gm"));
    }

    #[test]
    fn what_else_may_come_is_said_with_its_odds() {
        let input = "0 C\n4 Am\n8 F\n12 G\n";
        let lines = told(&["--json"], input).unwrap();
        for (line, text) in lines.iter().zip(told(&[], input).unwrap()) {
            let value: serde_json::Value = serde_json::from_str(line).unwrap();
            let (sure, odds) = (value["certainty"].as_f64().unwrap(), &value["odds"]);
            let other = value["alternative_certainties"][0].as_f64().unwrap();
            assert!(other <= sure && other + sure <= 1.0 + 1e-6 && other >= 0.05, "{line}");
            assert!(odds.as_array().unwrap().contains(&value["alternative_certainties"][0]));
            let symbol = value["alternatives"][0].as_str().unwrap();
            let said =
                format!(", or {symbol} in 4 ({:.0} / {:.0} %, ", sure * 100.0, other * 100.0);
            assert!(text.contains(&said), "{text} does not say {said}");
        }
    }

    #[test]
    fn a_blank_line_begins_a_new_song() {
        let lines = told(&["--json"], "0 C\n4 F\n\n0 C\n4 F\n").unwrap();
        assert_eq!(lines[0], lines[2]);
        assert_eq!(lines[1], lines[3]);
    }

    #[test]
    fn faults_point_at_their_place() {
        for (input, start) in [
            ("0 C\nx F", "standard input:2:1: `x` is no beat"),
            ("0 C\n4", "standard input:2:2: no chord after the beat"),
            ("0 C\n4 H7", "standard input:2:3: no chord `H7`"),
            ("4 C\n4 F", "standard input:2:1: beat 4 does not come after beat 4"),
            ("0 C 7", "standard input:1:5: `7` after the chord"),
            ("nan C", "standard input:1:1: `nan` is no beat"),
        ] {
            let message = told(&[], input).unwrap_err();
            assert!(message.starts_with(start), "{message}");
        }
    }
}
