//! Spoils a perfect take in known ways.

use std::collections::{BTreeMap, BTreeSet};

use sinistra_core::pitch::{KeyNumber, Semitones};
use sinistra_core::time::Ticks;
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

/// When each tick falls: the tempo changes evenly by `drift` of itself until the end.
struct Course {
    start_ms: f64,
    /// Milliseconds of a tick at first.
    period: f64,
    drift: f64,
    /// The last tick.
    end: f64,
}

impl Course {
    fn ms(&self, at: Ticks) -> f64 {
        let tick = at.0 as f64;
        self.start_ms + tick * self.period * (1.0 - self.drift * tick / self.end / 2.0)
    }
}

/// How a note is played.
struct PlayedNote {
    late: f64,
    key: KeyNumber,
    /// What is wrong with it.
    outcome: Option<Outcome>,
    /// A stroke beside it: how much later, and its key.
    extra: Option<(f64, KeyNumber)>,
}

impl PlayedNote {
    /// With a fault in `share` of all: `late` is what it is late or early by without one,
    /// `gaps` how far away the notes before and after it are, in milliseconds, `least`
    /// from where on it counts as late, `alone` whether nothing is asked for with it.
    fn of(
        (late, key): (f64, KeyNumber),
        [before, after]: [f64; 2],
        (share, least, alone): (f64, f64, bool),
        random: &mut Random,
    ) -> Self {
        let mut played = Self { late, key, outcome: None, extra: None };
        if !random.chance(share) {
            return played;
        }
        let moved = |by: i32| key.transpose(Semitones(by)).expect("a key");
        match random.pick(&[0, 1, 2, 3, 4, 5, 6]) {
            0 => played.outcome = Some(Outcome::Missed),
            // Not a neighbour's key: two notes of one chord would swap.
            1 if alone => {
                played.key = moved(random.pick(&[-2, -1, 1, 2, 3]));
                played.outcome = Some(Outcome::Wrong);
            }
            2 if alone => {
                played.key = moved(random.pick(&[-12, 12]));
                played.outcome = Some(Outcome::Octave);
            }
            3 if 0.45 * after > least => {
                played.late = random.between(least, 0.45 * after);
                played.outcome = Some(Outcome::Late);
            }
            4 if 0.45 * before > least => {
                played.late = -random.between(least, 0.45 * before);
                played.outcome = Some(Outcome::Early);
            }
            3 | 4 => {}
            // Struck twice.
            5 => played.extra = Some((after * random.between(0.35, 0.6), key)),
            // A stray key.
            _ => {
                let stray = KeyNumber::clamped(random.between(33.0, 60.0) as i32);
                played.extra = Some((after * random.between(0.25, 0.75), stray));
            }
        }
        played
    }
}

/// Where keys were missed, and where stray ones were struck.
#[derive(Default)]
struct FaultPlaces {
    missed: BTreeSet<Ticks>,
    strays: BTreeSet<Ticks>,
}

impl FaultPlaces {
    /// A key that is missed next to a stray one is a wrong key to any teacher: no take
    /// has both, so that what was made has one name. `before` is the onset before, and
    /// the next is missed if this `is_last`.
    fn keep_apart(
        &mut self,
        played: &mut PlayedNote,
        at: Ticks,
        before: Option<Ticks>,
        is_last: bool,
    ) {
        let stray = before.into_iter().chain([at]).any(|at| self.strays.contains(&at));
        if played.outcome == Some(Outcome::Missed) && stray {
            played.outcome = None;
        }
        if is_last || self.missed.contains(&at) {
            played.extra = None;
        }
        self.missed.extend((played.outcome == Some(Outcome::Missed)).then_some(at));
        self.strays.extend(played.extra.map(|_| at));
    }
}

/// Plays `target` with faults in about `share` of its notes.
pub fn spoil(target: &Target, share: f64, random: &mut Random) -> Spoiled {
    let metronome = random.chance(1.0 / 3.0);
    let ratio = if metronome { 1.0 } else { random.between(0.55, 1.7) };
    let drift = if metronome || random.chance(0.4) { 0.0 } else { random.between(-0.12, 0.12) };
    let start_ms = random.between(0.0, 20_000.0);
    let notes = target.notes();
    let end = notes.last().expect("notes").at;
    let period = 60_000.0 / (target.tempo * ratio * 960.0);
    let course = Course { start_ms, period, drift, end: end.0 as f64 };
    let least = Tolerance::at(target.pulse_ms(target.tempo * ratio)).note_ms + 5.0;
    let jitter = random.between(1.0, 6.0);
    // Some players come in late or stop early.
    let first = if random.chance(0.1) { target.pulse * 4 } else { Ticks::ZERO };
    let last = if random.chance(0.1) { end - target.pulse * 3 } else { end };

    let mut faults = FaultPlaces::default();
    let mut spoiled = BTreeMap::new();
    let mut late_ms = BTreeMap::new();
    let mut strokes: Vec<(TakeStroke, bool)> = Vec::new();
    let mut strike = |at_ms: f64, key: KeyNumber, extra| {
        strokes.push((TakeStroke { at_ms, until_ms: at_ms + 200.0, key, velocity: 80 }, extra));
    };
    for (index, note) in notes.iter().enumerate() {
        if note.at < first || note.at > last {
            spoiled.insert(index, Outcome::Missed);
            continue;
        }
        let now = course.ms(note.at);
        let later = notes[index..].iter().find(|other| other.at > note.at);
        let earlier = notes[..index].iter().rev().find(|other| other.at < note.at);
        let gaps = [earlier, later].map(|o| o.map_or(400.0, |o| (course.ms(o.at) - now).abs()));
        let alone = notes.iter().filter(|other| other.at == note.at).count() == 1;
        let meant = (random.normal(jitter), note.key);
        let mut played = PlayedNote::of(meant, gaps, (share, least, alone), random);
        let is_last = later.is_some_and(|other| other.at > last);
        faults.keep_apart(&mut played, note.at, earlier.map(|other| other.at), is_last);
        spoiled.extend(played.outcome.map(|outcome| (index, outcome)));
        if let Some((later, key)) = played.extra {
            strike(now + later, key, true);
        }
        if played.outcome != Some(Outcome::Missed) {
            late_ms.insert(index, played.late);
            strike(now + played.late, played.key, false);
        }
    }
    strokes.sort_by(|a, b| a.0.at_ms.total_cmp(&b.0.at_ms).then(a.0.key.cmp(&b.0.key)));
    let extras = strokes.iter().enumerate().filter(|(_, s)| s.1).map(|(i, _)| i).collect();
    let take = Take::new(strokes.into_iter().map(|s| s.0).collect());
    let beat = match metronome {
        true => TakeReference::Metronome { start_ms, tempo: target.tempo },
        false => TakeReference::Own,
    };
    let story = format!(
        "{} notes, metronome {metronome}, tempo ratio {ratio:.2}, drift {drift:.3}, jitter {jitter:.1} ms",
        notes.len()
    );
    Spoiled { take, beat, notes: spoiled, extras, late_ms, story }
}
