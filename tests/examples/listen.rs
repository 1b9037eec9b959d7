//! Prints what every pattern plays to some progressions, to be read critically:
//! `cargo run -p sinistra-tests --example listen [PATTERN [KEY METRE BARS [BUSY]]]`.

use sinistra_core::engine::Settings;
use sinistra_score::pattern_presets;
use sinistra_tests::{PaperHand, pattern};

const PIECES: &[(&str, &str, &str)] = &[
    ("C", "4/4", "C | Am | F | G | C | Am | Dm G | C"),
    ("G", "4/4", "G | D/F# | Em | C | G/B | Am | D7 | G"),
    ("Am", "4/4", "Am | F | C | G | Am | Dm | E7 | Am"),
    ("Eb", "4/4", "Eb . Cm . | Ab . Bb7 . | Gm C7 | Fm Bb | Eb"),
    ("E", "4/4", "E | C#m | A | B | G#m | C#m | F#m B | E"),
    ("Bb", "3/4", "Bb | Gm | Cm | F7 | Dm | Gm | Eb F | Bb"),
    ("F#m", "6/8", "F#m | D | A | E | F#m | D | Bm C#7 | F#m"),
    ("F", "12/8", "F | Dm | Bb | C | F Am | Dm | Gm C | F"),
    ("C", "5/4", "C | Am | F | G"),
    ("C", "7/8", "C | Am | F | G"),
];

fn main() {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let word = |n: usize| args.get(n).map(String::as_str);
    let busy = word(4).and_then(|busy| busy.parse().ok()).unwrap_or(50);
    let settings = Settings { busy, ..Settings::default() };
    let own = word(3).map(|bars| (word(1).unwrap_or("C"), word(2).unwrap_or("4/4"), bars));
    let pieces = own.as_ref().map_or(PIECES, std::slice::from_ref);
    for preset in pattern_presets() {
        if word(0).is_some_and(|name| !preset.slug.starts_with(name)) {
            continue;
        }
        println!("== {}", preset.slug);
        for (key, metre, bars) in pieces {
            let paper = PaperHand::new(key, metre, bars);
            let notes = paper.played(&pattern(Some(preset.slug)), &settings);
            println!("{key} {metre}: {bars}\n{}", paper.line(&notes));
            if own.is_some() {
                println!("{}", paper.score(&notes));
            }
        }
    }
}
