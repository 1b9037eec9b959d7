//! Which stroke answers which note: a coarse path through the take, the clock
//! it was played to, then every note's own stroke.
//!
//! The plan is that of Nakamura, Yoshii & Katayose, "Performance Error
//! Detection and Post-Processing for Fast and Accurate Symbolic Music
//! Alignment" (ISMIR 2017): align coarsely, keep what is beyond doubt, and
//! solve the regions around errors anew. The coarse path is a global alignment
//! by dynamic programming (Needleman & Wunsch, J. Mol. Biol. 48, 1970) over
//! onsets, with a clock that follows the player (phase and period correction,
//! Large & Palmer, Cognitive Science 26, 2002); the regions are solved as an
//! assignment problem (Kuhn 1955, Munkres 1957).

mod assign;
mod clock;
mod coarse;
mod onsets;

pub use clock::TakeClock;
pub(super) use onsets::{AskedKeys, Onset};

use super::take::Take;
use super::target::Target;
use sinistra_core::time::Ticks;

/// What a take is measured against.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum TakeReference {
    /// A metronome was heard, and its tempo is kept.
    Metronome {
        /// Where tick 0 of the target lies in the take, in milliseconds.
        start_ms: f64,
        /// Quarter notes a minute.
        tempo: f64,
    },
    /// None is known: the player's own beats are the clock.
    Own,
}

/// A finished alignment.
#[derive(Clone, Debug)]
pub struct Alignment {
    /// For each note of the target, the stroke that answers it.
    pub stroke_of: Vec<Option<usize>>,
    /// For each stroke, the note that it answers.
    pub note_of: Vec<Option<usize>>,
    /// Where each tick lies in the take.
    pub clock: TakeClock,
}

/// Finds the target in the take, wherever it starts and at whatever tempo.
/// `None` if nothing of it is there; beside a metronome, if nothing was played.
#[must_use]
pub fn align(target: &Target, take: &Take, beat: TakeReference) -> Option<Alignment> {
    let TakeReference::Metronome { start_ms, tempo } = beat else { return find(target, take) };
    let clock = TakeClock::steady(start_ms, tempo);
    let (stroke_of, note_of) = assign::assign(target, take, &clock);
    (!take.strokes().is_empty()).then_some(Alignment { stroke_of, note_of, clock })
}

/// Whether a take can be found in a target at all: both are compared stroke by
/// stroke, and together they may be too long for that.
#[must_use]
pub fn comparable(target: &Target, take: &Take) -> bool {
    let asked = onsets::of_target(target, onsets::TOGETHER_MS).len();
    let played = onsets::of_take(take, onsets::TOGETHER_MS).len();
    asked.saturating_mul(played) <= crate::limits::COMPARED
}

/// The clock of a take that answers `onsets`, whichever keys it chose.
pub(super) fn clock_of(
    onsets: &[Onset],
    take: &Take,
    beat: TakeReference,
    written: f64,
) -> Option<TakeClock> {
    if let TakeReference::Metronome { start_ms, tempo } = beat {
        return Some(TakeClock::steady(start_ms, tempo));
    }
    let clusters = onsets::of_take(take, onsets::TOGETHER_MS);
    if onsets.len().saturating_mul(clusters.len()) > crate::limits::COMPARED {
        return None;
    }
    let path = coarse::path(onsets, &clusters, written)?;
    let (anchors, breaks) = anchors(&path, onsets, &clusters);
    TakeClock::fit(&anchors, &breaks, written)
}

/// Where fewer of the notes than this are answered by their own keys, another reading
/// of the take is tried. By experiment on distorted takes.
const ANSWERED: f64 = 0.75;

fn find(target: &Target, take: &Take) -> Option<Alignment> {
    let first = find_within(target, take, onsets::TOGETHER_MS);
    let exact = |found: &Option<Alignment>| {
        let found = found.as_ref();
        found.map_or(0, |found| exact_pairs(target, take, &found.stroke_of).len())
    };
    let answered = exact(&first);
    if answered as f64 >= ANSWERED * target.notes().len() as f64 {
        return first;
    }
    // A hand whose chords fall apart: its strokes are no moments of their own.
    let wide = find_within(target, take, onsets::APART_MS);
    if exact(&wide) > answered { wide } else { first }
}

/// The alignment in which strokes closer than `together_ms` are one.
fn find_within(target: &Target, take: &Take, together_ms: f64) -> Option<Alignment> {
    let onsets = onsets::of_target(target, together_ms);
    let clusters = onsets::of_take(take, together_ms);
    if onsets.len().saturating_mul(clusters.len()) > crate::limits::COMPARED {
        return None;
    }
    let path = coarse::path(&onsets, &clusters, target.tempo)?;
    let (mut anchors, breaks) = anchors(&path, &onsets, &clusters);
    let mut clock = TakeClock::fit(&anchors, &breaks, target.tempo)?;
    let mut matched = assign::assign(target, take, &clock);
    // The notes' own strokes tell the clock better than whole clusters did.
    for _ in 0..2 {
        anchors = exact_pairs(target, take, &matched.0);
        let Some(better) = TakeClock::fit(&anchors, &breaks, target.tempo) else { break };
        clock = better;
        matched = assign::assign(target, take, &clock);
    }
    let (stroke_of, note_of) = matched;
    stroke_of.iter().any(Option::is_some).then_some(Alignment { stroke_of, note_of, clock })
}

/// What the coarse path says about the clock, and where it broke off.
fn anchors(
    path: &[coarse::MatchedOnset],
    onsets: &[Onset],
    clusters: &[onsets::Cluster],
) -> (Vec<clock::Anchor>, Vec<Ticks>) {
    let breaks = path.iter().filter(|step| step.jump).map(|step| onsets[step.onset].at).collect();
    let anchors = path
        .iter()
        .filter(|step| step.exact)
        .map(|step| clock::Anchor {
            at: onsets[step.onset].at,
            ms: clusters[step.cluster].at_ms,
            on_pulse: onsets[step.onset].on_pulse,
        })
        .collect();
    (anchors, breaks)
}

/// The pairs whose key is exactly right, as anchors for the clock.
fn exact_pairs(target: &Target, take: &Take, stroke_of: &[Option<usize>]) -> Vec<clock::Anchor> {
    let pairs = target.notes().iter().zip(stroke_of);
    pairs
        .filter_map(|(note, stroke)| {
            let stroke = take.strokes().get((*stroke)?)?;
            (stroke.key == note.key).then_some(clock::Anchor {
                at: note.at,
                ms: stroke.at_ms,
                on_pulse: note.on_pulse,
            })
        })
        .collect()
}
