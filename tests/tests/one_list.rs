//! What is heard, printed and asked is one list of notes, whatever chart,
//! pattern, swing and tempo.

use sinistra_core::engine::Settings;
use sinistra_core::time::Ticks;
use sinistra_score::chart::ChartPreset;
use sinistra_score::practice::{Exercise, Hand, Outcome, Take, TakeReference, TakeStroke, judge};
use sinistra_score::sheet::engrave::{EngraveOptions, Engraver};
use sinistra_score::{Chart, Performance, pattern_presets};

/// As heard: milliseconds, by the performance's own clock.
fn take(performance: &Performance) -> Take {
    let ms = |at: Ticks| performance.timeline.seconds(at) * 1000.0 + 500.0;
    let notes = performance.left.iter().chain(&performance.right);
    Take::new(
        notes
            .map(|note| TakeStroke {
                at_ms: ms(note.sounds.0),
                until_ms: ms(note.sounds.1),
                key: note.key,
                velocity: note.velocity,
            })
            .collect(),
    )
}

fn check(what: &str, chart: &Chart, pattern: &str, settings: Settings, felt: f64, times: u16) {
    let compiled = sinistra_score::find_pattern(pattern).expect("ships").compile().expect("ships");
    let mut song = chart.unfold_times(times);
    let tempo = chart.quarters(felt);
    song.tempo = Some(tempo);
    let performance = Performance::of(song, tempo, compiled, settings);
    let exercise = Exercise::of(chart, &performance, pattern, "");

    // Asked.
    let target = exercise.target(tempo);
    let mut asked: Vec<_> = target.notes().iter().map(|n| (n.at, n.key, n.hand)).collect();
    let side = |notes: &[sinistra_score::practice::HandNote], hand| -> Vec<_> {
        notes.iter().map(|note| (note.sounds.0, note.key, hand)).collect()
    };
    let mut heard =
        [side(&performance.left, Hand::Left), side(&performance.right, Hand::Right)].concat();
    asked.sort();
    heard.sort();
    assert_eq!(asked, heard, "{what}");

    // Printed, where it is counted.
    let sheet = exercise.unfolded_sheet();
    for (printed, notes) in [(&sheet.left, &performance.left), (&sheet.right, &performance.right)] {
        assert_eq!(printed.len(), notes.len(), "{what}");
        for (printed, note) in printed.iter().zip(notes) {
            assert_eq!((printed.at, printed.key), (note.at, note.key), "{what}");
            let sounds = exercise.swung(printed.at);
            // The upper notes of a stroke that is rolled come a little after its lowest.
            let late = (note.sounds.0 - sounds).0;
            let rolled = notes.iter().any(|n| n.at == note.at && n.key < note.key);
            let most = if rolled { Ticks::of_ms(120.0, tempo).0 } else { 2 };
            assert!((-2..=most).contains(&late), "{what}: {note:?} is printed elsewhere");
            let sixteenth = printed.at.0.rem_euclid(240);
            assert!(sixteenth == 0, "{what}: {note:?} lies on no sixteenth");
        }
    }
    let drawn = Engraver::new(&sheet).system(0..sheet.bars.len(), None, &EngraveOptions::ALL);
    let heads = drawn.heads.iter().filter(|head| head.struck).count();
    assert_eq!(heads, performance.left.len() + performance.right.len(), "{what}");

    // The performance itself is a clean take.
    let verdict = judge(&target, &take(&performance), TakeReference::Own).expect("it is in it");
    let wrong = verdict.notes.iter().find(|note| note.outcome != Outcome::Right);
    let extras = &verdict.extras;
    assert!(wrong.is_none() && extras.is_empty(), "{what}: {wrong:?}, {extras:?}");
}

#[test]
fn heard_printed_and_asked_are_one() {
    for (c, preset) in ChartPreset::all().iter().enumerate() {
        let chart = preset.chart().expect("ships");
        // Sheets are written in sixteenths.
        let thirds = ["shuffle", "triplet-arpeggio"];
        let drawn = |slug: &&str, text: &str| text.contains(&format!("\"{slug}\""));
        let patterns = pattern_presets().iter().filter(|pattern| {
            !thirds.iter().any(|slug| *slug == pattern.slug || drawn(slug, pattern.text))
        });
        for (n, pattern) in patterns.enumerate() {
            // The library of left hands in turn.
            if n >= 14 && n % ChartPreset::all().len() != c {
                continue;
            }
            for m in [n, n + 1] {
                let swing = [0.5, 0.58, 0.66, 0.75][m % 4];
                let felt = [60.0, 120.0, 170.0][m % 3];
                let busy = [50, 100, 20, 50, 0][m % 5];
                let settings = Settings { swing, busy, ..Settings::default() };
                let what =
                    format!("{}, {}, {swing}, {felt}, busy {busy}", preset.slug, pattern.slug);
                check(&what, &chart, pattern.slug, settings, felt, 1);
            }
        }
    }
}

#[test]
fn a_song_played_twice_is_printed_as_it_is_played() {
    for name in ["swing-door", "seven-stones", "lantern-street"] {
        let chart = ChartPreset::find(name).expect("ships").chart().expect("ships");
        let settings = Settings { swing: 0.66, ..Settings::default() };
        check(name, &chart, "everything-mixed", settings, 100.0, 2);
    }
}

/// What was found by hand: eighths of the chart's own swing thin out at 170.
#[test]
fn a_fast_swung_song_loses_its_ands_on_paper_too() {
    let text = "key: G\nmetre: 4/4\n\n|: G | Em | C | Am . D7 . :|\n| Bm | Em | C D | G |\n";
    let chart = Chart::read("evening", text).expect("a chart");
    for felt in [168.0, 170.0, 84.0, 230.0] {
        let settings = Settings { swing: 0.66, ..Settings::default() };
        check(&format!("{felt}"), &chart, "everything-mixed", settings, felt, 1);
    }
}
