//! What a teacher says first: of takes with one fault in the whole of them.

use sinistra_core::engine::Settings;
use sinistra_score::practice::{
    Exercise, Hand, Take, TakeReference, TakeStroke, TargetNote, judge, words,
};
use sinistra_score::{Chart, find_pattern};

const CHART: &str = "key: C\ntempo: 80\n| C | Am | F | G |\n| C | Am | Dm G | C |\n";

fn exercise(pattern: &str) -> Exercise {
    let chart = Chart::read("c", CHART).expect("a chart");
    let pattern = find_pattern(pattern).expect("ships").compile().expect("ships");
    Exercise::new(&chart, pattern, Settings::default(), None)
}

/// The hands played as `play` has it: (late ms, key up by, velocity, length).
fn told(
    pattern: &str,
    hand: Option<Hand>,
    beat: TakeReference,
    play: impl Fn(&TargetNote, f64) -> Option<(f64, i32, u8, f64)>,
) -> (String, bool, Vec<String>) {
    let target = exercise(pattern).target(80.0);
    let target = hand.map_or_else(|| target.clone(), |hand| target.of_hand(hand));
    let ms = |ticks: i64| ticks as f64 * 60_000.0 / (80.0 * 960.0);
    let strokes = target.notes().iter().filter_map(|note| {
        let due = ms(note.at.0);
        let (late, up, velocity, length) = play(note, due)?;
        let key = i32::from(note.key.number()) + up;
        let at_ms = 2_000.0 + due + late;
        Some(TakeStroke {
            at_ms,
            until_ms: at_ms + ms(note.until.0 - note.at.0) * length,
            key: sinistra_core::pitch::KeyNumber::clamped(key),
            velocity,
        })
    });
    let take = Take::new(strokes.collect());
    let verdict = judge(&target, &take, beat).expect("it is in it");
    let words = words(&target, &verdict);
    (words.summary, verdict.is_clean(), words.work)
}

const METRONOME: TakeReference = TakeReference::Metronome { start_ms: 2_000.0, tempo: 80.0 };

#[test]
fn a_good_round_is_clean() {
    for beat in [TakeReference::Own, METRONOME] {
        let (said, clean, work) =
            told("everything-mixed", None, beat, |n, _| Some((0.0, 0, n.velocity, 1.0)));
        assert!(clean && said.contains("a clean round") && work.is_empty(), "{said} {work:?}");
    }
}

#[test]
fn rushing_is_told_first_and_is_not_clean() {
    // From 72 to 89 over the song.
    let end = 8.0 * 4.0 * 750.0;
    let (said, clean, _) =
        told("roots-and-offbeats", Some(Hand::Left), TakeReference::Own, |n, due| {
            let (slow, fast) = (80.0 / 72.0, 80.0 / 89.0);
            let part = due / end;
            let late = due * (slow + (fast - slow) * part / 2.0) - due;
            Some((late, 0, n.velocity, 1.0))
        });
    assert!(said.starts_with("You rushed: 7") && said.contains("at the end"), "{said}");
    assert!(!clean);
}

#[test]
fn another_octave_is_said_once() {
    for (hand, start) in [
        (Some(Hand::Left), "All an octave too high, else right"),
        (None, "The left hand is an octave too high, else right"),
    ] {
        let (said, clean, work) = told("roots-and-offbeats", hand, TakeReference::Own, |n, _| {
            Some((0.0, if n.hand == Hand::Left { 12 } else { 0 }, n.velocity, 1.0))
        });
        assert!(said.starts_with(start), "{said}");
        assert!(!clean && work.is_empty(), "{work:?}");
    }
}

#[test]
fn a_late_entry_is_said_once() {
    let (said, clean, work) = told("everything-mixed", Some(Hand::Left), METRONOME, |n, _| {
        Some((750.0, 0, n.velocity, 1.0))
    });
    assert!(said.starts_with("You entered a beat late; from there all was right"), "{said}");
    assert!(!clean && work.is_empty(), "{work:?}");
    let (said, ..) = told("everything-mixed", None, TakeReference::Own, |n, _| {
        Some((if n.hand == Hand::Left { 750.0 } else { 0.0 }, 0, n.velocity, 1.0))
    });
    assert!(said.starts_with("Your left hand entered a beat late; from there all"), "{said}");
}

#[test]
fn a_stop_is_one_sentence() {
    let (said, clean, work) =
        told("roots-and-offbeats", Some(Hand::Left), TakeReference::Own, |n, _| {
            (n.bar <= 4).then_some((0.0, 0, n.velocity, 1.0))
        });
    assert!(said.starts_with("You stopped after bar 4"), "{said}");
    // No bar that was not reached is one to work on.
    let target = exercise("roots-and-offbeats").target(80.0).of_hand(Hand::Left);
    let half = target.notes().iter().filter(|note| note.bar <= 4).map(|note| TakeStroke {
        at_ms: note.at.beats() * 750.0,
        until_ms: note.until.beats() * 750.0,
        key: note.key,
        velocity: note.velocity,
    });
    let take = Take::new(half.collect());
    let verdict = judge(&target, &take, TakeReference::Own).expect("it is in it");
    assert_eq!(words(&target, &verdict).advice, ["Play on to the end, slower if need be."]);
    assert!(!clean && work.is_empty(), "{work:?}");
}

#[test]
fn a_bar_left_out_is_one_line() {
    let (_, _, work) = told("roots-and-offbeats", Some(Hand::Left), TakeReference::Own, |n, _| {
        (n.bar != 3).then_some((0.0, 0, n.velocity, 1.0))
    });
    assert_eq!(work, ["bar 3: 8 notes missing"]);
}

#[test]
fn touch_is_judged() {
    let play = |velocity: fn(u8) -> u8, length: f64| {
        told("roots-and-offbeats", Some(Hand::Left), TakeReference::Own, move |n, _| {
            Some((0.0, 0, velocity(n.velocity), length))
        })
    };
    let (said, clean, _) = play(|v| 140 - v, 1.0);
    assert!(said.starts_with("Your accents fall on the weak places") && !clean, "{said}");
    let (said, clean, _) = play(|v| v, 0.05);
    assert!(said.starts_with("Your notes are too short") && !clean, "{said}");
    let (said, clean, _) = play(|_| 70, 1.0);
    assert!(clean, "a keyboard that knows one loudness: {said}");
}
