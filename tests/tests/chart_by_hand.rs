//! A chart without a clock that counts its bars: on a stage and in practice the
//! place goes with the hand. It skips, repeats, starts in the middle, vamps.

use sinistra_core::chord::{Chord, Symbol};
use sinistra_core::engine::{Engine, Settings};
use sinistra_core::foresee::Source;
use sinistra_core::pitch::PitchClass;
use sinistra_core::play::Role;
use sinistra_core::time::Metre;
use sinistra_score::{Chart, LeftNote};
use sinistra_tests::{RightHandTake, STUDIO, key, pattern};

const CHART: &str = "title: Ladder in the Yard\nkey: C\nmetre: 4/4\n\n\
                     | C | Am | F | G | Em | Am | Dm | G7 |\n\
                     | F | Dm | Em | C | F | G | Am | E7 |\n";

/// The right hand's keys for each chord of the chart.
fn keys(symbol: &str) -> &'static str {
    match symbol {
        "C" => "C4 E4 G4",
        "Am" => "C4 E4 A4",
        "F" => "C4 F4 A4",
        "G" => "D4 G4 B4",
        "Em" => "E4 G4 B4",
        "Dm" => "D4 F4 A4",
        "G7" => "D4 F4 G4 B4",
        "E7" => "D4 E4 G#4 B4",
        other => unreachable!("{other} is not in the chart"),
    }
}

/// What the left hand plays to these chords, a bar each.
fn played(chords: &str, by_hand: bool) -> (Vec<LeftNote>, Vec<Chord>) {
    let chart = Chart::read("ladder.txt", CHART).expect("a chart");
    let mut engine = Engine::new(Settings::default(), pattern(Some("passing-notes")));
    drop(engine.swap_song(Some(Box::new(chart.unfold()))));
    engine.follow_hand(by_hand);
    let symbols: Vec<_> = chords.split_whitespace().collect();
    let bar = |n: usize| 4.0 * n as f64;
    let taken: Vec<_> = symbols
        .iter()
        .enumerate()
        .map(|(n, symbol)| (bar(n), bar(n + 1) - 0.1, keys(symbol)))
        .collect();
    let take = RightHandTake::of_chords(Metre::COMMON, 100.0, &taken);
    let chord = |symbol: &&str| Symbol::read(symbol).expect("a chord").chord();
    let meant = symbols.iter().map(chord).collect();
    (take.played_by(&mut engine, STUDIO), meant)
}

/// The bar of a note, from 0.
fn bar(note: &LeftNote) -> usize {
    (note.played.at.beats() / 4.0 + 1e-6) as usize
}

/// The bars before which the chart's own next chord was foreseen rightly in the
/// last note, and those with a passing note that led elsewhere.
fn foreseen(chords: &str) -> (Vec<usize>, Vec<usize>) {
    let (notes, meant) = played(chords, true);
    let (mut right, mut wrong) = (Vec::new(), Vec::new());
    for (n, pair) in meant.windows(2).enumerate() {
        let here: Vec<_> = notes.iter().filter(|note| bar(note) == n).collect();
        let first = here.first().expect("every bar has notes");
        assert_eq!(first.played.key.class(), pair[0].root, "bar {n} starts with its root");
        let last = here.last().expect("every bar has notes");
        let next = last.played.next.filter(|next| next.source == Source::Chart);
        if next.is_some_and(|next| next.chord.root == pair[1].root) {
            right.push(n + 1);
        }
        let leads = here.iter().any(|note| note.played.role == Role::Passing);
        if leads && last.played.next.is_none_or(|next| next.chord.root != pair[1].root) {
            wrong.push(n + 1);
        }
    }
    (right, wrong)
}

#[test]
fn as_written() {
    let (right, wrong) = foreseen("C Am F G Em Am Dm G7 F Dm Em C F G Am E7 C Am F");
    assert_eq!(right, (1..19).collect::<Vec<_>>());
    assert!(wrong.is_empty(), "{wrong:?}");
}

#[test]
fn a_bar_is_skipped() {
    // Em is left out: that Am came for it nobody could know, and then it does.
    let (right, wrong) = foreseen("C Am F G Am Dm G7 F Dm Em C");
    assert_eq!(right, [1, 2, 3, 5, 6, 7, 8, 9, 10]);
    assert!(wrong.iter().all(|bar| *bar == 4), "{wrong:?}");
}

#[test]
fn a_bar_is_repeated() {
    let (right, wrong) = foreseen("C Am F Am F G Em Am Dm G7 F");
    assert!(right.ends_with(&[6, 7, 8, 9, 10]), "{right:?}");
    assert!(wrong.iter().all(|bar| (3..=5).contains(bar)), "{wrong:?}");
}

#[test]
fn it_starts_in_the_middle() {
    let (right, wrong) = foreseen("Dm Em C F G Am E7 C Am F G Em");
    assert!(right.ends_with(&[4, 5, 6, 7, 8, 9, 10, 11]), "found in three chords: {right:?}");
    assert!(wrong.iter().all(|bar| *bar < 4), "{wrong:?}");
}

#[test]
fn a_wrong_chord_is_got_over_in_two() {
    // E7 for G, which the chart has too, but elsewhere.
    let (right, wrong) = foreseen("C Am F E7 Em Am Dm G7 F Dm");
    assert!(right.ends_with(&[6, 7, 8, 9]), "{right:?}");
    assert!(wrong.iter().all(|bar| (3..=5).contains(bar)), "{wrong:?}");
}

#[test]
fn a_section_goes_round_and_then_on() {
    let (right, wrong) = foreseen("C Am F G C Am F G C Am F G Em Am Dm G7 F");
    assert!(right.ends_with(&[13, 14, 15, 16]) || right.ends_with(&[14, 15, 16]), "{right:?}");
    assert!(wrong.iter().all(|bar| [4, 8, 12].contains(bar)), "{wrong:?}");
}

#[test]
fn by_the_bars_a_skipped_bar_stays_skipped() {
    // The other way, for comparison: the host's bars say where the song is.
    let (notes, _) = played("C Am F G Am Dm", false);
    let first = notes.iter().find(|note| bar(note) == 4).expect("a note in bar 5");
    let next = first.played.next.expect("the chart says what comes");
    assert_eq!((next.chord.root, next.source), (PitchClass::new(9), Source::Chart));
    assert_eq!(next.at.beats(), 20.0);
}

/// A right hand over a slash cannot show the bass: the chart does, with the
/// chord, not a moment after it.
#[test]
fn the_bass_after_a_slash_is_struck_with_its_chord() {
    let text = "title: Stairs\nkey: C\nmetre: 4/4\n\n\
                | C | G/B | Am | F/C | C/E | F | G/D | C |\n";
    let chart = Chart::read("stairs.txt", text).expect("a chart");
    let basses = ["C", "B", "A", "C", "E", "F", "D", "C"].map(|name| key(&format!("{name}2")));
    for early in [0.0_f64, 0.02] {
        let mut engine = Engine::new(Settings::default(), pattern(Some("roots-on-the-beat")));
        drop(engine.swap_song(Some(Box::new(chart.unfold()))));
        engine.follow_hand(true);
        let mut at = 0.0_f64;
        let taken = ["C", "G", "Am", "F", "C", "F", "G", "C"].map(|symbol| {
            let from = (at - early).max(0.0);
            at += 4.0;
            (from, at - 0.1, keys(symbol))
        });
        let notes =
            RightHandTake::of_chords(Metre::COMMON, 100.0, &taken).played_by(&mut engine, STUDIO);
        let near = |note: &&LeftNote| (note.played.at.beats() + 0.05) % 4.0 < 0.1;
        let struck: Vec<_> =
            notes.iter().filter(near).map(|note| note.played.key.class()).collect();
        assert_eq!(struck, basses.map(|key| key.class()), "{early} beats early");
    }
}
