//! The numbers behind the words: per count, per bar, per role; steadiness;
//! hand to hand.

use std::collections::BTreeMap;

use serde::Serialize;

use super::align::TakeClock;
use super::target::Hand;
use super::touch::Touch;
use super::verdict::{NoteVerdict, Outcome};
use crate::count::Count;
use sinistra_core::play::Role;
use sinistra_core::time::Ticks;

/// How some of the notes went. Times in milliseconds, late positive.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct NoteTally {
    /// Notes asked for.
    pub asked: usize,
    /// Right key, in time.
    pub right: usize,
    /// Right key, too early.
    pub early: usize,
    /// Right key, too late.
    pub late: usize,
    /// Another key.
    pub wrong: usize,
    /// The right name in another octave.
    pub octave: usize,
    /// Not played.
    pub missed: usize,
    /// Mean of what was played; 0 if nothing was.
    pub mean_ms: f64,
    /// Standard deviation (n − 1); 0 with fewer than two.
    pub spread_ms: f64,
}

impl NoteTally {
    /// Of any notes.
    pub fn of<'a>(notes: impl Iterator<Item = &'a NoteVerdict>) -> Self {
        let mut tally = Self::default();
        let mut times = Vec::new();
        for note in notes {
            tally.asked += 1;
            *match note.outcome {
                Outcome::Right => &mut tally.right,
                Outcome::Early => &mut tally.early,
                Outcome::Late => &mut tally.late,
                Outcome::Wrong => &mut tally.wrong,
                Outcome::Octave => &mut tally.octave,
                Outcome::Missed => &mut tally.missed,
            } += 1;
            times.extend(note.late_ms);
        }
        (tally.mean_ms, tally.spread_ms) = mean_and_spread(&times);
        tally
    }

    /// Notes that were not right and in time.
    #[must_use]
    pub fn faults(&self) -> usize {
        self.asked - self.right
    }

    /// Notes that were played, whatever the key.
    #[must_use]
    pub fn played(&self) -> usize {
        self.asked - self.missed
    }
}

/// Mean and standard deviation (n − 1).
pub(super) fn mean_and_spread(times: &[f64]) -> (f64, f64) {
    if times.is_empty() {
        return (0.0, 0.0);
    }
    let mean = times.iter().sum::<f64>() / times.len() as f64;
    if times.len() < 2 {
        return (mean, 0.0);
    }
    let squares: f64 = times.iter().map(|t| (t - mean).powi(2)).sum();
    (mean, (squares / (times.len() - 1) as f64).sqrt())
}

/// A tally with what it is of.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct TallyRow<K> {
    /// The count, bar or role.
    pub of: K,
    /// How its notes went.
    #[serde(flatten)]
    pub tally: NoteTally,
}

/// How far the left hand lies behind the right where both strike.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct HandToHand {
    /// Places where both hands struck.
    pub places: usize,
    /// Left after right, mean, milliseconds.
    pub mean_ms: f64,
    /// Standard deviation.
    pub spread_ms: f64,
}

/// All numbers of a verdict.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Figures {
    /// All notes.
    pub all: NoteTally,
    /// The left hand by count.
    pub slots: Vec<TallyRow<Count>>,
    /// Both hands by printed bar.
    pub bars: Vec<TallyRow<i64>>,
    /// The left hand by role.
    pub roles: Vec<TallyRow<&'static str>>,
    /// Quarter notes a minute: typical, at the first note, at the last.
    pub tempo: [f64; 3],
    /// Standard deviation of the felt beats around the clock, milliseconds.
    pub steadiness_ms: f64,
    /// Stops and jumps.
    pub stops: usize,
    /// Notes of one hand's stroke: first to last, mean; `None` without chords
    /// in the left hand.
    pub strokes_apart_ms: Option<f64>,
    /// Hand to hand, where both played.
    pub hands: Option<HandToHand>,
    /// Loudness and length of the left hand, where there is enough of it.
    pub touch: Option<Touch>,
}

/// A change of tempo from the first note to the last that is a fault: listeners
/// notice one of five to six in a hundred (Drake & Botte, Perception &
/// Psychophysics 54, 1993, from memory).
pub const DRIFT: f64 = 0.06;

impl Figures {
    /// How much faster the last note was than the first, as a part; negative:
    /// slower. Of a take too short to tell, nothing.
    #[must_use]
    pub fn drift(&self) -> f64 {
        let [_, start, end] = self.tempo;
        if self.all.asked < 16 || start <= 0.0 { 0.0 } else { end / start - 1.0 }
    }
}

pub(super) fn figures(notes: &[NoteVerdict], clock: &TakeClock, tempo: f64) -> Figures {
    let left: Vec<&NoteVerdict> = notes.iter().filter(|n| n.note.hand == Hand::Left).collect();
    let beats: Vec<f64> =
        notes.iter().filter(|n| n.note.on_pulse).filter_map(|n| n.late_ms).collect();
    let ends = notes.first().zip(notes.last());
    let (from, to) = ends.map_or_else(Default::default, |(first, last)| {
        (first.note.at + Ticks(Ticks::PER_BEAT), last.note.at)
    });
    Figures {
        all: NoteTally::of(notes.iter()),
        slots: rows(left.iter().copied(), |n| Some(n.note.count)),
        bars: rows(notes.iter(), |n| Some(n.note.bar)),
        roles: rows(left.iter().copied(), |n| n.note.role)
            .into_iter()
            .map(|TallyRow { of, tally }| TallyRow { of: Role::name(of), tally })
            .collect(),
        tempo: [tempo, clock.tempo(from), clock.tempo(to.max(from))],
        steadiness_ms: mean_and_spread(&beats).1,
        stops: clock.stops(),
        strokes_apart_ms: strokes_apart(&left),
        hands: hand_to_hand(notes),
        touch: None,
    }
}

fn rows<'a, K: Ord + Copy>(
    notes: impl Iterator<Item = &'a NoteVerdict>,
    of: impl Fn(&NoteVerdict) -> Option<K>,
) -> Vec<TallyRow<K>> {
    let mut groups: BTreeMap<K, Vec<&NoteVerdict>> = BTreeMap::new();
    for note in notes {
        if let Some(key) = of(note) {
            groups.entry(key).or_default().push(note);
        }
    }
    let row = |(of, notes): (K, Vec<&NoteVerdict>)| TallyRow {
        of,
        tally: NoteTally::of(notes.into_iter()),
    };
    groups.into_iter().map(row).collect()
}

/// Notes of the same tick, in order.
fn strokes<'a>(notes: &'a [&'a NoteVerdict]) -> impl Iterator<Item = &'a [&'a NoteVerdict]> {
    notes.chunk_by(|a, b| a.note.at == b.note.at)
}

fn strokes_apart(left: &[&NoteVerdict]) -> Option<f64> {
    let widths: Vec<f64> = strokes(left)
        .filter(|stroke| stroke.len() > 1)
        .filter_map(|stroke| {
            let times: Vec<f64> = stroke.iter().filter_map(|n| n.late_ms).collect();
            let (low, high) = (
                times.iter().copied().fold(f64::INFINITY, f64::min),
                times.iter().copied().fold(f64::NEG_INFINITY, f64::max),
            );
            (times.len() > 1).then_some(high - low)
        })
        .collect();
    (!widths.is_empty()).then(|| mean_and_spread(&widths).0)
}

fn hand_to_hand(notes: &[NoteVerdict]) -> Option<HandToHand> {
    let all: Vec<&NoteVerdict> = notes.iter().collect();
    let apart: Vec<f64> = strokes(&all)
        .filter_map(|stroke| {
            let of = |hand| {
                let times: Vec<f64> = stroke
                    .iter()
                    .filter(|n| n.note.hand == hand)
                    .filter_map(|n| n.late_ms)
                    .collect();
                (!times.is_empty()).then(|| mean_and_spread(&times).0)
            };
            Some(of(Hand::Left)? - of(Hand::Right)?)
        })
        .collect();
    let (mean_ms, spread_ms) = mean_and_spread(&apart);
    (!apart.is_empty()).then_some(HandToHand { places: apart.len(), mean_ms, spread_ms })
}
