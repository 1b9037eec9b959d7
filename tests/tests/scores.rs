//! Golden scores: `tests/scores/*.txt` play as written there.

use std::fmt::Write;
use std::path::Path;

use sinistra_core::engine::Settings;
use sinistra_tests::{PaperHand, key, pattern};

/// A score file, played: what it should say.
fn played(text: &str) -> String {
    let mut answer = String::new();
    for (n, part) in text.split("\n= ").enumerate() {
        let part = if n == 0 { part.trim_start_matches("= ") } else { part };
        let (title, body) = part.split_once('\n').unwrap_or((part, ""));
        let set: Vec<(&str, &str)> = body
            .lines()
            .take_while(|line| !line.trim().is_empty())
            .filter_map(|line| line.split_once(' '))
            .collect();
        let value = |name: &str| set.iter().find(|(n, _)| *n == name).map(|(_, value)| *value);
        let need = |name: &str| value(name).expect(title);
        let number = |name: &str, usual: f32| value(name).map_or(usual, |v| v.parse().expect(name));
        let usual = Settings::default();
        let settings = Settings {
            busy: number("busy", 50.0) as u8,
            swing: number("swing", usual.swing),
            length: number("length", usual.length),
            seed: number("seed", 1.0) as u64,
            lowest: value("lowest").map_or(usual.lowest, key),
            highest: value("highest").map_or(usual.highest, key),
            ..usual
        };
        let mut paper = PaperHand::new(need("key"), need("metre"), need("chords"));
        paper.certainty = if value("sure") == Some("no") { -1.0 } else { number("sure", 1.0) };
        let notes = paper.played(&pattern(Some(need("pattern"))), &settings);
        let _ = writeln!(answer, "= {title}");
        for (name, value) in &set {
            let _ = writeln!(answer, "{name} {value}");
        }
        let _ = writeln!(answer, "\n{}    {}\n", paper.score(&notes), paper.line(&notes));
    }
    answer.trim_end().to_owned() + "\n"
}

#[test]
fn every_score_plays_as_written() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("scores");
    let mut count = 0;
    for entry in std::fs::read_dir(&folder).expect("the folder of scores") {
        let path = entry.expect("an entry").path();
        if path.extension().is_none_or(|extension| extension != "txt") {
            continue;
        }
        let text = std::fs::read_to_string(&path).expect("a score").replace("\r\n", "\n");
        let answer = played(&text);
        if std::env::var_os("UPDATE_SCORES").is_some() {
            std::fs::write(&path, &answer).expect("room on the disk");
        } else {
            for (is, should) in answer.split("\n= ").zip(text.split("\n= ")) {
                assert_eq!(is.trim_end(), should.trim_end(), "\nPLAYED:\n{is}\nWRITTEN:\n{should}");
            }
            assert_eq!(answer, text, "{}", path.display());
        }
        count += answer.matches("\n= ").count() + 1;
    }
    assert!(count > 50, "only {count} scores");
}
