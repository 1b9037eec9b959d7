//! Spoils a perfect take in known ways.

use std::collections::BTreeMap;

use sinistra_core::pitch::{KeyNumber, Semitones};
use sinistra_score::practice::{Outcome, Take, TakeReference, TakeStroke, Target, Tolerance};

use crate::random::Random;

/// A take with the list of everything that was done to it.
pub struct Spoiled {
    pub take: Take,
    pub beat: TakeReference,
    /// What became of the notes that were spoiled, by index in the target.
    pub notes: BTreeMap<usize, Outcome>,
    /// Strokes added, by index in the take.
    pub extras: Vec<usize>,
    /// True lateness of every note that was played, in milliseconds.
    pub late_ms: BTreeMap<usize, f64>,
    /// What the take is like, for messages.
    pub story: String,
}

/// Plays `target` with faults in about `share` of its notes.
pub fn spoil(target: &Target, share: f64, random: &mut Random) -> Spoiled {
    let metronome = random.chance(1.0 / 3.0);
    let ratio = if metronome { 1.0 } else { random.between(0.55, 1.7) };
    let drift = if metronome || random.chance(0.4) { 0.0 } else { random.between(-0.12, 0.12) };
    let start_ms = random.between(0.0, 20_000.0);
    let notes = target.notes();
    let end = notes.last().expect("notes").at.0 as f64;
    let period = 60_000.0 / (target.tempo * ratio * 960.0);
    // The tempo changes evenly by `drift` of itself until the end.
    let due = |tick: i64| {
        let x = tick as f64 / end;
        start_ms + tick as f64 * period * (1.0 - drift * x / 2.0)
    };
    let tolerance = Tolerance::at(target.pulse_ms(target.tempo * ratio));
    let jitter = random.between(1.0, 6.0);
    // Some players come in late or stop early.
    let first = if random.chance(0.1) { target.pulse.0 * 4 } else { 0 };
    let last = if random.chance(0.1) { end as i64 - target.pulse.0 * 3 } else { end as i64 };

    let mut spoiled = BTreeMap::new();
    let mut late_ms = BTreeMap::new();
    let mut strokes: Vec<(TakeStroke, bool)> = Vec::new();
    let mut strike = |at_ms: f64, key: KeyNumber, extra| {
        strokes.push((TakeStroke { at_ms, until_ms: at_ms + 200.0, key, velocity: 80 }, extra));
    };
    for (index, note) in notes.iter().enumerate() {
        if note.at.0 < first || note.at.0 > last {
            spoiled.insert(index, Outcome::Missed);
            continue;
        }
        let now = due(note.at.0);
        let later = notes[index..].iter().find(|other| other.at > note.at);
        let earlier = notes[..index].iter().rev().find(|other| other.at < note.at);
        let gap = later.map_or(400.0, |other| due(other.at.0) - now);
        let gap_before = earlier.map_or(400.0, |other| now - due(other.at.0));
        let mut late = random.normal(jitter);
        let mut key = note.key;
        let alone = notes.iter().filter(|other| other.at == note.at).count() == 1;
        if random.chance(share) {
            match random.pick(&[0, 1, 2, 3, 4, 5, 6]) {
                0 => {
                    spoiled.insert(index, Outcome::Missed);
                    continue;
                }
                // Not a neighbour's key: two notes of one chord would swap.
                1 if alone => {
                    let by = random.pick(&[-2, -1, 1, 2, 3]);
                    key = key.transpose(Semitones(by)).expect("a key");
                    spoiled.insert(index, Outcome::Wrong);
                }
                2 if alone => {
                    key = key.transpose(Semitones(random.pick(&[-12, 12]))).expect("a key");
                    spoiled.insert(index, Outcome::Octave);
                }
                3 => {
                    let least = tolerance.note_ms + 5.0;
                    let most = 0.45 * gap;
                    if most > least {
                        late = random.between(least, most);
                        spoiled.insert(index, Outcome::Late);
                    }
                }
                4 => {
                    let least = tolerance.note_ms + 5.0;
                    let most = 0.45 * gap_before;
                    if most > least {
                        late = -random.between(least, most);
                        spoiled.insert(index, Outcome::Early);
                    }
                }
                // Struck twice.
                5 => strike(now + gap * random.between(0.35, 0.6), key, true),
                // A stray key.
                _ => {
                    let stray = KeyNumber::clamped(random.between(33.0, 60.0) as i32);
                    strike(now + gap * random.between(0.25, 0.75), stray, true);
                }
            }
        }
        late_ms.insert(index, late);
        strike(now + late, key, false);
    }
    strokes.sort_by(|a, b| a.0.at_ms.total_cmp(&b.0.at_ms).then(a.0.key.cmp(&b.0.key)));
    let extras = strokes.iter().enumerate().filter(|(_, s)| s.1).map(|(i, _)| i).collect();
    let take = Take::new(strokes.into_iter().map(|s| s.0).collect());
    let beat = if metronome {
        TakeReference::Metronome { start_ms, tempo: target.tempo }
    } else {
        TakeReference::Own
    };
    let story = format!(
        "{} notes, metronome {metronome}, tempo ratio {ratio:.2}, drift {drift:.3}, jitter {jitter:.1} ms",
        notes.len()
    );
    Spoiled { take, beat, notes: spoiled, extras, late_ms, story }
}
