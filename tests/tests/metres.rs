//! A song whose metre and tempo change on the way: the count starts anew on
//! every bar line, with the pattern that the metre has.

use sinistra_core::engine::{Engine, Message, Settings};
use sinistra_core::time::{Metre, Ticks};
use sinistra_score::{LeftNote, Timeline};
use sinistra_tests::{RightHandTake, STUDIO, key, pattern};

fn metre(beats: u8, unit: u8) -> Metre {
    Metre::new(beats, unit).expect("a metre")
}

/// Beats of the song (quarter notes) at which bars start: two of 4/4, two of
/// 3/4, two of 6/8, one of 5/4, one of 4/4.
const BARS: [f64; 9] = [0.0, 4.0, 8.0, 11.0, 14.0, 17.0, 20.0, 25.0, 29.0];

/// A bar each; roots C and F in turn.
const KEYS: [&str; 2] = ["C4 E4 G4", "C4 F4 A4"];

fn song() -> RightHandTake {
    let at = Ticks::nearest;
    let metres = [
        (at(0.0), metre(4, 4)),
        (at(8.0), metre(3, 4)),
        (at(14.0), metre(6, 8)),
        (at(20.0), metre(5, 4)),
        (at(25.0), metre(4, 4)),
    ];
    let timeline = Timeline::new(&[(0.0, 96.0), (11.0, 132.0), (22.5, 70.0)], &metres);
    let mut events = Vec::new();
    for (n, bar) in BARS.windows(2).enumerate() {
        for name in KEYS[n % 2].split(' ') {
            let (channel, key) = (0, key(name));
            events.push((at(bar[0]), Message::On { channel, key, velocity: 80 }));
            events.push((at(bar[1] - 0.1), Message::off(channel, key)));
        }
    }
    Message::sort(&mut events);
    RightHandTake { events, timeline, end: at(29.0) }
}

fn played(name: &str) -> Vec<LeftNote> {
    song().played_by(&mut Engine::new(Settings::default(), pattern(Some(name))), STUDIO)
}

/// Beats from each bar line at which notes start.
fn counts(notes: &[LeftNote]) -> Vec<Vec<f64>> {
    BARS.windows(2)
        .map(|bar| {
            let inside = |at: &f64| (bar[0] - 0.01..bar[1] - 0.01).contains(at);
            let beats = notes.iter().map(|note| note.played.at.beats()).filter(inside);
            beats.map(|beat| ((beat - bar[0]) * 100.0).round() / 100.0).collect()
        })
        .collect()
}

#[test]
fn roots_fall_on_the_beats_of_each_bars_own_metre() {
    let fours = vec![0.0, 1.0, 2.0, 3.0];
    let threes = vec![0.0, 1.0, 2.0];
    let sixes = vec![0.0, 1.5]; // two dotted quarters
    let fives = vec![0.0, 1.0, 2.0, 3.0, 4.0];
    let notes = played("roots-on-the-beat");
    let expected = [&fours, &fours, &threes, &threes, &sixes, &sixes, &fives, &fours];
    for (n, (is, should)) in counts(&notes).iter().zip(expected).enumerate() {
        assert_eq!(is, should, "bar {}", n + 1);
    }
}

#[test]
fn every_bar_starts_with_its_root_on_the_sample() {
    let timeline = song().timeline;
    for name in ["everything-mixed", "passing-notes", "octaves-low-high", "waltz"] {
        let notes = played(name);
        for (n, bar) in BARS[..8].iter().enumerate() {
            let line = timeline.frame(Ticks::nearest(*bar), STUDIO.rate);
            let first = notes.iter().find(|note| note.on >= line).expect("a note in every bar");
            assert_eq!(first.on, line, "{name}, bar {}", n + 1);
            let root = [0, 5][n % 2];
            assert_eq!(i32::from(first.played.key.number()) % 12, root, "{name}, bar {}", n + 1);
        }
        let ends = timeline.frame(Ticks::nearest(29.0), STUDIO.rate);
        assert!(notes.iter().all(|note| note.off <= ends), "{name}: nothing sounds on");
    }
}
