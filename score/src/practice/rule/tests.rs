//! The free exercise as a teacher would judge it: any left hand by the rule.

use super::*;
use crate::practice::Exercise;
use crate::{Chart, pattern_presets};
use sinistra_core::engine::Settings;

const CHART: &str = "title: Two Bars\nkey: C\nmetre: 4/4\ntempo: 60\n\n| C | Am |\n";
const BEAT: TakeReference = TakeReference::Metronome { start_ms: 1000.0, tempo: 60.0 };

/// Something on every beat and every "and"; C, then Am.
fn rule() -> FreeRule {
    let chart = Chart::read("two-bars", CHART).expect("a chart");
    let of_slug = |p: &&crate::pattern::PatternPreset| p.slug == "roots-and-offbeats";
    let preset = pattern_presets().iter().find(of_slug).expect("a preset");
    let pattern = preset.compile().expect("a pattern");
    Exercise::new(&chart, pattern, Settings::default(), None).rule(60.0, KeyNumber::MIDDLE_C)
}

/// Plays `keys` where the model strikes, so many ms late.
fn take(rule: &FreeRule, keys: &[u8], late: impl Fn(usize) -> f64) -> Take {
    let stroke = |(n, (place, key)): (usize, (&RulePlace, &u8))| {
        let at_ms = 1000.0 + place.model.at.beats() * 1000.0 + late(n);
        TakeStroke {
            at_ms,
            until_ms: at_ms + 100.0,
            key: KeyNumber::clamped((*key).into()),
            velocity: 70,
        }
    };
    Take::new(rule.places.iter().zip(keys).enumerate().map(stroke).collect())
}

fn outcomes(rule: &FreeRule, take: &Take) -> Vec<Outcome> {
    judge_rule(rule, take, BEAT).expect("a verdict").notes.iter().map(|n| n.outcome).collect()
}

/// C E G C … B before A, then A C E …: tones of the chords, and the one note
/// between roots a third apart just before the change.
const ALLOWED: [u8; 16] = [36, 40, 43, 48, 43, 40, 36, 47, 45, 48, 52, 45, 40, 45, 48, 45];

#[test]
fn any_tone_of_the_chord_counts_and_the_passing_note_before_the_change() {
    let rule = rule();
    assert_eq!(rule.places.len(), 16);
    let take = take(&rule, &ALLOWED, |_| 5.0);
    let verdict = judge_rule(&rule, &take, BEAT).expect("a verdict");
    assert!(verdict.is_clean(), "{:?}", verdict.notes);
    assert_eq!(verdict.notes[7].note.role, Some(Role::Passing)); // B between C and A
    assert_eq!(verdict.notes[1].note.role, Some(Role::Third));
}

#[test]
fn on_the_change_only_the_bass_counts() {
    let rule = rule();
    let mut keys = ALLOWED;
    keys[8] = 48; // C is in Am, but its root is asked for
    let outcomes = outcomes(&rule, &take(&rule, &keys, |_| 0.0));
    assert_eq!(outcomes[8], Outcome::Wrong);
    assert_eq!(outcomes.iter().filter(|o| **o == Outcome::Right).count(), 15);
}

#[test]
fn the_passing_note_is_wrong_where_it_leads_nowhere() {
    let rule = rule();
    let mut keys = ALLOWED;
    keys[2] = 47; // B in the midst of C
    keys[11] = 42; // F♯ is of neither chord nor key
    let outcomes = outcomes(&rule, &take(&rule, &keys, |_| 0.0));
    assert_eq!((outcomes[2], outcomes[11]), (Outcome::Wrong, Outcome::Wrong));
}

#[test]
fn late_early_and_missing_are_told_apart_and_the_right_hand_is_not_heard() {
    let rule = rule();
    let late = |n: usize| [0.0, 0.0, 0.0, 100.0, 0.0, -90.0][n.min(5) * usize::from(n <= 5)];
    let whole = take(&rule, &ALLOWED, late);
    let mut strokes: Vec<TakeStroke> = whole.strokes().to_vec();
    strokes.remove(6);
    // A chord of the right hand meanwhile, and a wrong key besides at the end.
    let right = TakeStroke { key: KeyNumber::clamped(66), ..strokes[2] };
    let besides = TakeStroke { key: KeyNumber::clamped(42), ..strokes[14] };
    strokes.extend([right, besides]);
    let verdict = judge_rule(&rule, &Take::new(strokes), BEAT).expect("a verdict");
    let outcomes: Vec<Outcome> = verdict.notes.iter().map(|n| n.outcome).collect();
    assert_eq!(
        (outcomes[3], outcomes[5], outcomes[6]),
        (Outcome::Late, Outcome::Early, Outcome::Missed)
    );
    assert_eq!(outcomes.iter().filter(|o| **o == Outcome::Right).count(), 13);
    let extras: Vec<u8> = verdict.extras.iter().map(|e| e.key.number()).collect();
    assert_eq!(extras, [42]);
}

#[test]
fn silence_has_no_verdict() {
    let rule = rule();
    assert!(judge_rule(&rule, &Take::default(), BEAT).is_none());
}
