//! `sinistra name`: a chord a line in, a name a line out.

use std::io::{BufRead, Write};

use serde::Serialize;
use sinistra_core::chord::{Chord, Symbol};
use sinistra_core::engine::KeyChoice;
use sinistra_core::hear::{Context, Naming, Tonality, name_keys};
use sinistra_core::key::Key;
use sinistra_core::pitch::{KeyNumber, Spelled};

use super::lines::{fault, line_by_line, told};
use crate::failure::Failure;
use crate::options;

/// Name chords, a line each
///
/// Reads a chord a line: MIDI key numbers (60 64 67), note names (C4 E4 G4),
/// or note names without octaves from the lowest up (C E G). Says its name
/// before it reads the next line. The key and the chord before are taken from
/// the lines so far; a blank line begins a new song.
#[derive(clap::Args)]
pub struct NameArgs {
    /// The key of the song; without it the key is heard from the lines
    #[arg(long, value_name = "KEY", value_parser = options::key_choice, default_value = "auto")]
    key: KeyChoice,
    /// A JSON object a line
    #[arg(long)]
    json: bool,
    /// Name every line by itself
    #[arg(long)]
    each_alone: bool,
}

/// One line of the answer.
#[derive(Serialize)]
struct NamedLine {
    symbol: String,
    root: String,
    /// C = 0.
    root_pc: usize,
    /// As MusicXML 4.0 names it.
    kind: &'static str,
    bass: String,
    bass_pc: usize,
    /// How sure the root is, 0..=1.
    certainty: f32,
    /// Symbols, the likelier first.
    alternatives: Vec<String>,
    /// How sure each of them is.
    alternative_certainties: Vec<f32>,
    /// Whether its root is not among the keys: the left hand would have it.
    #[serde(skip)]
    below: Vec<bool>,
}

/// Runs the command.
pub fn run(args: NameArgs) -> Result<(), Failure> {
    answer(&args, std::io::stdin().lock(), std::io::stdout().lock())
}

fn answer(args: &NameArgs, input: impl BufRead, output: impl Write) -> Result<(), Failure> {
    let mut song = LinesSoFar::default();
    line_by_line(input, output, |text, number| {
        let keys = read_keys(text, number)?;
        if args.each_alone || keys == 0 {
            song = LinesSoFar::default();
        }
        let said = song.name(args, keys);
        said.map(|said| told(args.json, &said, said.readable())).transpose()
    })
}

/// The lines so far.
#[derive(Default)]
struct LinesSoFar {
    tonality: Tonality,
    before: Option<Chord>,
}

/// A line counts as a chord of half a bar: what it sounds fades over two beats.
const BEATS: f32 = 2.0;

impl LinesSoFar {
    /// `None` for a line without keys.
    fn name(&mut self, args: &NameArgs, keys: u128) -> Option<NamedLine> {
        self.tonality.fade(BEATS);
        for class in sinistra_core::hear::classes(keys).iter() {
            self.tonality.hear(class, 1.0);
        }
        let heard = self.tonality.decide();
        let key = match args.key {
            KeyChoice::Fixed(key) => Some(key),
            KeyChoice::Auto if args.each_alone => None,
            KeyChoice::Auto => heard,
        };
        let naming = name_keys(keys, &Context { key, before: self.before })?;
        self.before = Some(naming.chord);
        Some(NamedLine::of(&naming, keys, key.unwrap_or(Key::C_MAJOR)))
    }
}

impl NamedLine {
    fn of(naming: &Naming, keys: u128, key: Key) -> Self {
        let others = &naming.alternatives;
        let held = sinistra_core::hear::classes(keys);
        let chord = naming.chord;
        Self {
            symbol: Symbol::of(chord, key).ascii(),
            root: key.spell(chord.root).ascii(),
            root_pc: chord.root.index(),
            kind: chord.quality.kind().name(),
            bass: key.spell(chord.bass).ascii(),
            bass_pc: chord.bass.index(),
            certainty: naming.certainty,
            alternatives: others.iter().map(|&(c, _)| Symbol::of(c, key).ascii()).collect(),
            alternative_certainties: others.iter().map(|&(_, certainty)| certainty).collect(),
            below: others.iter().map(|&(c, _)| !held.has(c.root)).collect(),
        }
    }

    fn readable(&self) -> String {
        let mut names = self.symbol.clone();
        let mut sure = format!("{:.0}", self.certainty * 100.0);
        let certainties = self.alternative_certainties.iter().zip(&self.below);
        for (symbol, (certainty, below)) in self.alternatives.iter().zip(certainties) {
            let below = if *below { " with its root below" } else { "" };
            names += &format!(", or {symbol}{below}");
            sure += &format!(" / {:.0}", certainty * 100.0);
        }
        format!("{names}: {sure} %")
    }
}

/// The keys of a line; bit n is key n.
fn read_keys(text: &str, line: usize) -> Result<u128, Failure> {
    let start = text.as_ptr() as usize;
    let separators = |c: char| c.is_whitespace() || c == ',';
    let (mut keys, mut last) = (0, None);
    for word in text.split(separators).filter(|word| !word.is_empty()) {
        let key = read_key(word, last).ok_or_else(|| {
            const HINT: &str =
                "a line is key numbers from 0 to 127 (60 64 67) or note names (C4 E4 G4, or C E G)";
            let from = word.as_ptr() as usize - start;
            let what = format!("`{word}` is no key of the keyboard");
            fault(text, line, from..from + word.len(), what, HINT)
        })?;
        keys |= 1u128 << key.number();
        last = Some(key);
    }
    Ok(keys)
}

/// A number, a name with its octave, or a name alone: then the next such key
/// above the `last` one, the first in the octave of middle C.
fn read_key(word: &str, last: Option<KeyNumber>) -> Option<KeyNumber> {
    if let Ok(key) = options::key_number(word) {
        return Some(key);
    }
    let (spelled, rest) = Spelled::read(word)?;
    if !rest.is_empty() {
        return None;
    }
    let from = last.map_or(KeyNumber::MIDDLE_C.number(), |last| last.number().saturating_add(1));
    (from..=127).filter_map(KeyNumber::new).find(|key| key.class() == spelled.class())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(options: &[&str], input: &str) -> Result<Vec<String>, String> {
        crate::commands::told(options, |args: &NameArgs, output| {
            answer(args, input.as_bytes(), output)
        })
    }

    fn symbols(options: &[&str], input: &str) -> Vec<String> {
        let options = [options, &["--json"]].concat();
        let lines = told(&options, input).unwrap();
        let value = |line: &String| serde_json::from_str::<serde_json::Value>(line).unwrap();
        lines.iter().map(|line| value(line)["symbol"].as_str().unwrap().to_owned()).collect()
    }

    #[test]
    fn keys_are_written_in_three_ways() {
        for line in ["60 64 67", "C4 E4 G4", "C E G", "60,64,67", "e4 g4 c5"] {
            assert_eq!(symbols(&[], line), ["C"], "{line}");
        }
    }

    #[test]
    fn a_line_tells_everything_about_the_chord() {
        let lines = told(&["--json", "--key", "Bb"], "58 62 65 69\n").unwrap();
        let value: serde_json::Value = serde_json::from_str(&lines[0]).unwrap();
        for (field, expected) in
            [("symbol", "Bbmaj7"), ("root", "Bb"), ("kind", "major-seventh"), ("bass", "Bb")]
        {
            assert_eq!(value[field], expected, "{field}");
        }
        assert_eq!((value["root_pc"].as_u64(), value["bass_pc"].as_u64()), (Some(10), Some(10)));
        assert!(value["certainty"].as_f64().unwrap() > 0.5);
        assert!(value["alternatives"].is_array());
    }

    #[test]
    fn a_chord_that_may_have_its_root_below_says_so() {
        let lines = told(&[], "C E G\nG B D\nA C E\nA C E\n").unwrap();
        let last = &lines[3];
        assert!(last.starts_with("Am, or Fmaj7 with its root below"), "{last}");
        let (_, sure) = last.split_once(": ").unwrap();
        let sure: Vec<u32> =
            sure.trim_end_matches(" %").split(" / ").map(|n| n.parse().unwrap()).collect();
        assert!(sure[0] > sure[1] && sure[1] >= 10 && sure.iter().sum::<u32>() <= 101, "{last}");
    }

    #[test]
    fn a_blank_line_begins_a_new_song() {
        let lines = told(&["--json"], "C E G\nA C\n\nC E G\nA C\n").unwrap();
        assert_eq!((&lines[0], &lines[1]), (&lines[2], &lines[3]));
    }

    #[test]
    fn each_alone_forgets_the_lines_before() {
        let lines = told(&["--json", "--each-alone"], "A C\nG B D F\nA C\n").unwrap();
        assert_eq!(lines[0], lines[2]);
    }

    #[test]
    fn faults_point_at_their_place() {
        let fault = told(&[], "C4 E4\n60 64 H7\n").unwrap_err();
        assert!(fault.starts_with("standard input:2:7: `H7` is no key of the keyboard"), "{fault}");
        for line in ["128", "C4 -1", "C12", "é", "C E G\u{0}"] {
            assert!(told(&[], line).is_err(), "{line:?}");
        }
    }

    #[test]
    fn no_line_no_name() {
        assert_eq!(told(&[], "").unwrap(), Vec::<String>::new());
    }
}
