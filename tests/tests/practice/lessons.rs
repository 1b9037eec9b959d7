//! What the learner reads, word for word.

use sinistra_core::key::Key;
use sinistra_core::pitch::KeyNumber;
use sinistra_core::play::Role;
use sinistra_core::time::{Metre, Ticks};
use sinistra_score::practice::{
    Count, Hand, Take, TakeReference, TakeStroke, Target, TargetNote, judge, words,
};

/// Eight bars of C and A minor in eighths, `1 & 2 &`: roots, and at the end
/// of each bar the fifth or the B that leads down to A.
fn exercise() -> Target {
    let mut notes = Vec::new();
    for bar in 0..8 {
        let (root, last, role) = match bar % 2 {
            0 => (48, 47, Role::Passing),
            _ => (45, 52, Role::Fifth),
        };
        for eighth in 0..8 {
            let offset = Ticks(eighth * 480);
            let (key, role) = if eighth == 7 { (last, role) } else { (root, Role::Root) };
            notes.push(TargetNote {
                at: Ticks(bar * 3840) + offset,
                until: Ticks(bar * 3840 + eighth * 480 + 430),
                key: KeyNumber::clamped(key),
                velocity: 70,
                hand: Hand::Left,
                symbol: None,
                role: Some(role),
                bar: bar + 1,
                pass: 1,
                count: Count::of(Metre::COMMON, offset),
                on_pulse: eighth % 2 == 0,
            });
        }
    }
    Target::new(notes, Key::C_MAJOR, 90.0, Metre::COMMON)
}

/// Plays the exercise; `with` may move (ms), change or leave out each note.
fn take(
    target: &Target,
    start_ms: f64,
    tempo: f64,
    with: impl Fn(&TargetNote) -> Option<(f64, i32)>,
) -> Take {
    let strokes = target.notes().iter().filter_map(|note| {
        let (late, by) = with(note)?;
        let at_ms = start_ms + note.at.beats() * 60_000.0 / tempo + late;
        let key = KeyNumber::clamped(i32::from(note.key.number()) + by);
        Some(TakeStroke { at_ms, until_ms: at_ms + 200.0, key, velocity: 70 })
    });
    Take::new(strokes.collect())
}

fn told(target: &Target, take: &Take, beat: TakeReference) -> String {
    let verdict = judge(target, take, beat).expect("found");
    let words = words(target, &verdict);
    let parts = [vec![words.summary], words.habits, words.places, words.advice].concat();
    parts.join("\n")
}

fn is(note: &TargetNote, bar: i64, count: &str) -> bool {
    note.bar == bar && note.count.to_string() == count
}

#[test]
fn a_wrong_note_is_named_where_it_stands() {
    let target = exercise();
    let take = take(&target, 0.0, 90.0, |n| Some((0.0, if is(n, 3, "2-and") { 2 } else { 0 })));
    let beat = TakeReference::Metronome { start_ms: 0.0, tempo: 90.0 };
    assert_eq!(
        told(&target, &take, beat),
        "63 of 64 notes right, 63 in time; tempo 90.\n\
         bar 3, the 2-and: D instead of C\n\
         The fifths and passing notes are safe; work on bar 3."
    );
}

#[test]
fn late_ands_are_a_habit_and_the_passing_note_makes_it_worse() {
    let target = exercise();
    let take = take(&target, 7_300.0, 72.0, |n| {
        let late = match (n.on_pulse, n.role) {
            (true, _) => 0.0,
            (false, Some(Role::Passing)) => 80.0,
            (false, _) => 32.0,
        };
        Some((late, 0))
    });
    // No metronome: the take starts late and is slower than written.
    assert_eq!(
        told(&target, &take, TakeReference::Own),
        "64 of 64 notes right, 60 in time; tempo 72: a clean round.\n\
         Your “ands” come 38 ms late on average, and later (80 ms) when the passing note comes.\n\
         Take the next tempo, and mind the passing notes."
    );
}

#[test]
fn what_is_missing_doubled_or_in_another_octave_is_said() {
    let target = exercise();
    let plain = take(&target, 100.0, 90.0, |n| match () {
        () if is(n, 2, "3") => None,
        () if is(n, 5, "1") => Some((0.0, -12)),
        () if is(n, 6, "2") => Some((140.0, 0)),
        () => Some((0.0, 0)),
    });
    let again =
        TakeStroke { at_ms: 100.0 + 40.0 * 60_000.0 / 90.0 / 2.0 + 160.0, ..plain.strokes()[40] };
    let take = Take::new([plain.strokes(), &[again]].concat());
    let beat = TakeReference::Metronome { start_ms: 100.0, tempo: 90.0 };
    assert_eq!(
        told(&target, &take, beat),
        "62 of 64 notes right, 61 in time, 1 too many; tempo 90.\n\
         bar 2, the 3: A missing\n\
         bar 5, the 1: C an octave too low\n\
         bar 6, the 1: A struck twice\n\
         bar 6, the 2: A 140 ms late\n\
         The fifths and passing notes are safe; work on bar 6."
    );
}

#[test]
fn a_stop_is_told_and_what_follows_is_still_judged() {
    let target = exercise();
    let take = take(&target, 0.0, 90.0, |n| {
        let pause = if n.bar >= 5 { 4_000.0 } else { 0.0 };
        Some((pause, if is(n, 7, "4") { 1 } else { 0 }))
    });
    assert_eq!(
        told(&target, &take, TakeReference::Own),
        "63 of 64 notes right, 63 in time; tempo 90.\n\
         You stopped or jumped once.\n\
         bar 7, the 4: C♯ instead of C\n\
         The fifths and passing notes are safe; work on bar 7."
    );
}

#[test]
fn beside_the_metronome_what_was_played_is_told_though_nothing_of_it_is_right() {
    let target = exercise();
    // Between two notes, and none of their keys; the last has time for a wrong one.
    let take = take(&target, 0.0, 90.0, |_| Some((140.0, 1)));
    let beat = TakeReference::Metronome { start_ms: 0.0, tempo: 90.0 };
    let told = told(&target, &take, beat);
    assert!(told.starts_with("0 of 64 notes right, 0 in time, 63 too many; tempo 90.\n"), "{told}");
}

#[test]
fn a_take_with_nothing_of_the_exercise_has_no_verdict() {
    let target = exercise();
    assert!(judge(&target, &Take::default(), TakeReference::Own).is_none());
}
