//! Practice sheets of every chart that ships, with every pattern, in every key.

use std::path::PathBuf;
use std::time::Instant;

use sinistra_core::engine::Settings;
use sinistra_core::key::Key;
use sinistra_core::pitch::PitchClass;
use sinistra_score::practice::{Exercise, Hand};
use sinistra_score::sheet::engrave::mark::words_width;
use sinistra_score::sheet::engrave::{EngraveOptions, Engraver, Shape};
use sinistra_score::{Chart, find_pattern, pattern_presets};

/// Every chart that ships.
fn charts() -> Vec<(String, Chart)> {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../presets/charts");
    let mut paths: Vec<_> = std::fs::read_dir(folder)
        .expect("charts")
        .map(|entry| entry.expect("a chart").path())
        .collect();
    paths.sort();
    let read = |path: PathBuf| {
        let name = path.file_stem().expect("a name").to_string_lossy().into_owned();
        let text = std::fs::read_to_string(&path).expect("text");
        let chart = Chart::read(&name, &text).expect("a chart that ships");
        (name, chart)
    };
    paths.into_iter().map(read).collect()
}

#[test]
fn an_explained_sheet_says_of_every_bar_of_the_free_hand_why_it_is_so() {
    let mut rules = std::collections::BTreeSet::new();
    for (name, chart) in charts() {
        let pattern = find_pattern("free-hand").expect("ships").compile().expect("a pattern");
        let exercise = Exercise::new(&chart, pattern, Settings::default(), None);
        assert_eq!(exercise.sheet().reasons, [], "{name}: only where it is asked for");
        let sheet = exercise.explained_sheet();
        for bar in &sheet.bars {
            let inside = |at| (bar.at..bar.end).contains(&at);
            let said = sheet.reasons.iter().any(|said| inside(said.at));
            let struck = sheet.left.iter().any(|note| inside(note.at));
            assert_eq!(said, struck, "{name}, bar {}", bar.number);
        }
        let rule = |text: &str| text.rsplit(": ").next().map(str::to_owned);
        rules.extend(sheet.reasons.iter().filter_map(|said| rule(&said.text)));
        let written = sheet.musicxml().0.matches("\"italic\" font-size=\"8\"").count();
        assert_eq!(written, sheet.reasons.len(), "{name}: every reason is exported");
        // Drawn, none runs into another.
        let drawn = Engraver::new(&sheet).system(0..sheet.bars.len(), None, &EngraveOptions::ALL);
        let words = drawn.marks.iter().filter_map(|mark| match &mark.shape {
            Shape::Text { text, anchor, size, .. } => Some((text, *anchor, *size)),
            _ => None,
        });
        let is_said = |text: &String| sheet.reasons.iter().any(|said| said.text == *text);
        let words: Vec<_> = words.filter(|(text, ..)| is_said(text)).collect();
        assert!(words.len() >= sheet.reasons.len(), "{name}: every reason is drawn");
        for pair in words.iter().flat_map(|a| words.iter().map(move |b| (a, b))) {
            let ((text, a, size), (_, b, _)) = pair;
            let apart = a.y != b.y || a.x >= b.x || a.x + words_width(text, *size) < b.x;
            assert!(apart, "{name}: {pair:?}");
        }
    }
    for rule in ["tells the chord", "passes", "lands"] {
        assert!(rules.contains(rule), "{rule} is in no chart: {rules:?}");
    }
}

#[test]
fn the_sheet_has_what_is_played() {
    for (name, chart) in charts() {
        for preset in pattern_presets() {
            let pattern = preset.compile().expect("a pattern that ships");
            let exercise = Exercise::new(&chart, pattern, Settings::default(), None);
            let what = format!("{name}, {}", preset.slug);
            assert!(!exercise.left.is_empty(), "{what}");
            let sheet = exercise.sheet();
            let target = exercise.target(exercise.tempo);
            // Each played note has its printed bar, and each printed left-hand
            // note is played at least once.
            assert!(target.notes().iter().all(|note| note.bar <= exercise.last_bar()), "{what}");
            let left = target.notes().iter().filter(|note| note.hand == Hand::Left).count();
            assert!(sheet.left.len() <= left, "{what}");
            let (xml, contents) = sheet.musicxml();
            assert_eq!(
                contents.bars as i64,
                exercise.last_bar() + i64::from(sheet.bars[0].number == 0)
            );
            assert!(contents.heads >= sheet.left.len() + sheet.right.len(), "{what}");
            // What is drawn is what is exported.
            let drawn =
                Engraver::new(&sheet).system(0..sheet.bars.len(), None, &EngraveOptions::ALL);
            assert_eq!(drawn.heads.len(), contents.heads, "{what}");
            let rolls = drawn.marks.iter().filter(|mark| matches!(mark.shape, Shape::Roll { .. }));
            assert_eq!(rolls.count(), rolled(&xml), "{what}");
            assert!(drawn.columns.windows(2).all(|pair| pair[0].1 < pair[1].1), "{what}");
        }
    }
}

/// At how many moments MusicXML has something rolled, in whichever voice.
fn rolled(xml: &str) -> usize {
    let mut moments = std::collections::BTreeSet::new();
    for (bar, measure) in xml.split("<measure ").enumerate() {
        let mut now = 0;
        for piece in measure.split("</note>").flat_map(|part| part.split_inclusive("</backup>")) {
            for piece in piece.split_inclusive("</forward>") {
                let Some((_, rest)) = piece.split_once("<duration>") else { continue };
                let (number, rest) = rest.split_once('<').expect("an end");
                let length: i64 = number.parse().expect("a number");
                let is_chord = piece.contains("<chord/>");
                if rest.contains("<arpeggiate") {
                    moments.insert((bar, if is_chord { now - length } else { now }));
                }
                now += match (piece.contains("<backup>"), is_chord) {
                    (true, _) => -length,
                    (false, true) => 0,
                    (false, false) => length,
                };
            }
        }
    }
    moments.len()
}

#[test]
fn a_sheet_of_chords_in_the_key_has_no_accidentals() {
    for (key, fifths) in [("F#", 6), ("Gb", -6), ("C#", 7), ("Db", -5), ("B", 5), ("Cb", -7)] {
        let [one, four, five] = match key {
            "F#" => ["F#", "B", "C#"],
            "Gb" => ["Gb", "Cb", "Db"],
            "C#" => ["C#", "F#", "G#"],
            "Db" => ["Db", "Gb", "Ab"],
            "B" => ["B", "E", "F#"],
            _ => ["Cb", "Fb", "Gb"],
        };
        let text = format!("key: {key}\n| {one} | {four} | {five} | {one} |\n");
        let chart = Chart::read(key, &text).expect("a chart");
        // A walking bass has half steps.
        let in_key = pattern_presets().iter().filter(|preset| preset.slug != "walking-bass");
        for preset in in_key {
            let pattern = preset.compile().expect("a pattern that ships");
            let sheet = Exercise::new(&chart, pattern, Settings::default(), None).sheet();
            let page = sheet.musicxml().0;
            assert!(page.contains(&format!("<fifths>{fifths}</fifths>")), "{key}");
            assert!(!page.contains("<accidental>"), "{key}, {}", preset.slug);
        }
    }
}

/// Writes them all for other programs to read:
/// `SINISTRA_SHEETS=DIR cargo test --release -p sinistra-tests --test sheets -- --ignored --nocapture`,
/// then `python tests/outside/sheet_readers.py DIR`.
#[test]
#[ignore = "writes some 1,400 files into SINISTRA_SHEETS"]
fn write_every_chart_pattern_and_key() {
    let folder = PathBuf::from(std::env::var_os("SINISTRA_SHEETS").expect("SINISTRA_SHEETS"));
    let (mut written, mut bytes) = (0, 0);
    let start = Instant::now();
    for (name, chart) in charts() {
        let home = chart.draft().key.unwrap_or_else(|| chart.likeliest_key());
        for tonic in PitchClass::all() {
            let key = Key { tonic, mode: home.mode };
            let chart = chart.transpose(key).expect("the same mode");
            for preset in pattern_presets() {
                let pattern = preset.compile().expect("a pattern that ships");
                let exercise = Exercise::new(&chart, pattern, Settings::default(), None);
                let text = exercise.sheet().musicxml().0;
                let file = format!("{name}-{}-{}.musicxml", preset.slug, key.spell(tonic).ascii());
                std::fs::write(folder.join(file), &text).expect("written");
                written += 1;
                bytes += text.len();
            }
        }
    }
    let seconds = start.elapsed().as_secs_f64();
    println!("{written} sheets, {:.1} MB, in {seconds:.1} s", bytes as f64 / 1e6);
}
