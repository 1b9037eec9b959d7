//! The verdict as it is read: in words on the screen, in JSON for programs.

use serde_json::{Value, json};
use sinistra_core::key::WrittenKey;
use sinistra_core::pitch::KeyNumber;
use sinistra_score::midi_file::HandTrack;
use sinistra_score::practice::{Take, TeacherWords, ToldVerdict, Verdict};
use sinistra_score::{MidiFile, wording};

use super::recorder::Recorder;

/// The strokes of a MIDI file, in milliseconds by its own tempo.
pub fn take_of(file: &MidiFile<'_>, part: &HandTrack) -> Take {
    let mut recorder = Recorder::default();
    for (at, message) in file.messages(part) {
        recorder.hear(file.timeline().seconds(at) * 1000.0, message);
    }
    recorder.take()
}

/// For the screen.
pub fn lines(told: &ToldVerdict) -> Vec<String> {
    let TeacherWords { summary, habits, work, advice, .. } = &told.words;
    let mut lines = vec![summary.clone()];
    lines.extend(habits.iter().cloned());
    lines.extend(work.iter().map(|place| format!("  {place}")));
    lines.extend(advice.iter().cloned());
    lines
}

/// The counts as a small table, for the screen.
pub fn table(verdict: &Verdict) -> Vec<String> {
    let mut lines =
        vec!["count   asked  right  early  late  wrong  missed   mean  spread".to_owned()];
    lines.extend(verdict.figures.slots.iter().map(|row| {
        let t = &row.tally;
        format!(
            "{:<7} {:>5}  {:>5}  {:>5}  {:>4}  {:>5}  {:>6}  {:>+5.0}  {:>6.0} ms",
            row.of.to_string(),
            t.asked,
            t.right,
            t.early,
            t.late,
            t.wrong + t.octave,
            t.missed,
            t.mean_ms,
            t.spread_ms
        )
    }));
    lines.push(format!("steadiness of the beat: {:.0} ms", verdict.figures.steadiness_ms));
    if let Some(hands) = verdict.figures.hands {
        lines.push(format!(
            "left after right hand: {:+.0} ms, spread {:.0} ms, {} places",
            hands.mean_ms, hands.spread_ms, hands.places
        ));
    }
    lines
}

/// For programs.
pub fn json(told: &ToldVerdict, key: WrittenKey) -> Value {
    let verdict = &told.verdict;
    let notes: Vec<Value> = verdict
        .notes
        .iter()
        .map(|n| {
            json!({
                "bar": n.note.bar,
                "pass": n.note.pass,
                "count": n.note.count.to_string(),
                "hand": n.note.hand,
                "role": n.note.role.map(sinistra_core::play::Role::name),
                "key": n.note.key.number(),
                "name": wording::plain_note(n.note.key, key),
                "outcome": n.outcome,
                "played": n.played.map(KeyNumber::number),
                "late_ms": n.late_ms.map(rounded),
            })
        })
        .collect();
    let extras: Vec<Value> = verdict
        .extras
        .iter()
        .map(|e| {
            json!({
                "bar": e.bar,
                "after_count": e.count.to_string(),
                "hand": e.hand,
                "key": e.key.number(),
                "name": wording::plain_note(e.key, key),
                "repeated": e.repeated,
            })
        })
        .collect();
    json!({
        "clean": verdict.is_clean(),
        "whole": verdict.whole,
        "manners": verdict.manners,
        "words": told.words,
        "figures": verdict.figures,
        "tolerance": verdict.tolerance,
        "notes": notes,
        "extras": extras,
    })
}

/// To a thousandth of a millisecond.
fn rounded(ms: f64) -> f64 {
    (ms * 1000.0).round() / 1000.0
}
