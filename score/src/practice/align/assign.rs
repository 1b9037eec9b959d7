//! Every note's own stroke: what is beyond doubt first, the rest as an
//! assignment problem around each error.

use pathfinding::matrix::Matrix;
use pathfinding::prelude::kuhn_munkres_min;

use super::TakeClock;
use crate::practice::take::{Take, TakeStroke};
use crate::practice::target::{Target, TargetNote};
use sinistra_core::pitch::KeyNumber;
use sinistra_core::time::Ticks;

/// A stroke this close (in beats) with the right key and no rival is beyond doubt.
const BEYOND_DOUBT: f64 = 0.1;
/// No stroke farther off than this (in beats) answers a note.
const FARTHEST: f64 = 1.0;
/// Costs in thousandths: a note without a stroke and a stroke without a note,
/// together dearer than a wrong key in time.
const ALONE: i64 = 750;

type Matches = (Vec<Option<usize>>, Vec<Option<usize>>);

/// The stroke of each note and the note of each stroke.
pub(super) fn assign(target: &Target, take: &Take, clock: &TakeClock) -> Matches {
    let notes = target.notes();
    let strokes = take.strokes();
    let spans = spans(target, clock);
    let mut edges: Vec<Vec<(usize, i64)>> = vec![Vec::new(); notes.len()];
    for ((note, span), edges) in notes.iter().zip(&spans).zip(&mut edges) {
        let from = strokes.partition_point(|stroke| stroke.at_ms < span.due - span.widest());
        let near = strokes[from..].iter().take_while(|s| s.at_ms <= span.due + span.widest());
        edges.extend(
            near.enumerate().filter_map(|(k, stroke)| Some((from + k, cost(note, stroke, span)?))),
        );
    }
    let mut stroke_of = vec![None; notes.len()];
    let mut note_of = vec![None; strokes.len()];
    settle_the_obvious(notes, strokes, &spans, &edges, &mut stroke_of, &mut note_of);
    for region in regions(&edges, &stroke_of, &note_of) {
        solve(&region, &edges, &mut stroke_of, &mut note_of);
    }
    (stroke_of, note_of)
}

/// When a note is due and how far away its stroke may lie.
struct DueSpan {
    due: f64,
    beat: f64,
    /// Milliseconds to the onsets before and after.
    before: f64,
    after: f64,
}

impl DueSpan {
    /// The farthest stroke that may answer.
    fn widest(&self) -> f64 {
        FARTHEST * self.beat
    }

    /// How far a stroke lies towards the neighbouring onset: 1 is on it.
    fn reach(&self, late: f64) -> f64 {
        late.abs() / if late < 0.0 { self.before } else { self.after }
    }
}

fn spans(target: &Target, clock: &TakeClock) -> Vec<DueSpan> {
    let notes = target.notes();
    let beat = |at| clock.ms(at + Ticks(Ticks::PER_BEAT)) - clock.ms(at);
    let spans = notes.iter().enumerate().map(|(index, note)| {
        let due = clock.ms(note.at);
        let beat = beat(note.at).max(1.0);
        let earlier = notes[..index].iter().rev().find(|other| other.at < note.at);
        let later = notes[index..].iter().find(|other| other.at > note.at);
        DueSpan {
            due,
            beat,
            before: earlier.map_or(beat, |other| due - clock.ms(other.at)).clamp(1.0, 2.0 * beat),
            after: later.map_or(beat, |other| clock.ms(other.at) - due).clamp(1.0, 2.0 * beat),
        }
    });
    spans.collect()
}

/// What it costs that `stroke` answers `note`; `None` if it cannot.
fn cost(note: &TargetNote, stroke: &TakeStroke, span: &DueSpan) -> Option<i64> {
    let late = stroke.at_ms - span.due;
    let reach = span.reach(late);
    // Right keys may come almost as late as the next onset; a wrong key counts
    // as this note's only near its time.
    let (key, farthest) = match distance(note.key, stroke.key) {
        0 => (0.0, 0.9),
        12 | 24 => (200.0, 0.33),
        1..=7 => (500.0, 0.33),
        _ => (650.0, 0.33),
    };
    (reach <= farthest && late.abs() <= span.widest())
        .then_some((key + 800.0 * reach * reach) as i64)
}

fn distance(a: KeyNumber, b: KeyNumber) -> i32 {
    a.distance(b).0.abs()
}

/// Pairs with the right key, in time, where neither has another choice of
/// that key close by.
fn settle_the_obvious(
    notes: &[TargetNote],
    strokes: &[TakeStroke],
    spans: &[DueSpan],
    edges: &[Vec<(usize, i64)>],
    stroke_of: &mut [Option<usize>],
    note_of: &mut [Option<usize>],
) {
    let mut wanted: Vec<Vec<usize>> = vec![Vec::new(); strokes.len()];
    for (i, edges) in edges.iter().enumerate() {
        for (j, _) in edges {
            if strokes[*j].key == notes[i].key {
                wanted[*j].push(i);
            }
        }
    }
    for (i, edges) in edges.iter().enumerate() {
        let mut right = edges.iter().filter(|(j, _)| strokes[*j].key == notes[i].key);
        let (Some((j, _)), None) = (right.next(), right.next()) else { continue };
        let late = (strokes[*j].at_ms - spans[i].due).abs();
        if late <= BEYOND_DOUBT * spans[i].beat && wanted[*j] == [i] {
            stroke_of[i] = Some(*j);
            note_of[*j] = Some(i);
        }
    }
}

/// Notes and strokes that compete, a region each.
fn regions(
    edges: &[Vec<(usize, i64)>],
    stroke_of: &[Option<usize>],
    note_of: &[Option<usize>],
) -> Vec<(Vec<usize>, Vec<usize>)> {
    let mut notes_of: Vec<Vec<usize>> = vec![Vec::new(); note_of.len()];
    for (i, edges) in edges.iter().enumerate().filter(|(i, _)| stroke_of[*i].is_none()) {
        for (j, _) in edges.iter().filter(|(j, _)| note_of[*j].is_none()) {
            notes_of[*j].push(i);
        }
    }
    let mut seen_note = vec![false; edges.len()];
    let mut seen_stroke = vec![false; note_of.len()];
    let mut regions = Vec::new();
    for first in 0..edges.len() {
        if seen_note[first] || stroke_of[first].is_some() {
            continue;
        }
        seen_note[first] = true;
        let (mut notes, mut strokes, mut open) = (Vec::new(), Vec::new(), vec![first]);
        while let Some(i) = open.pop() {
            notes.push(i);
            for (j, _) in edges[i].iter().filter(|(j, _)| note_of[*j].is_none()) {
                if std::mem::replace(&mut seen_stroke[*j], true) {
                    continue;
                }
                strokes.push(*j);
                for other in &notes_of[*j] {
                    if !std::mem::replace(&mut seen_note[*other], true) {
                        open.push(*other);
                    }
                }
            }
        }
        if !strokes.is_empty() {
            regions.push((notes, strokes));
        }
    }
    regions
}

/// The cheapest pairing inside one region.
fn solve(
    (notes, strokes): &(Vec<usize>, Vec<usize>),
    edges: &[Vec<(usize, i64)>],
    stroke_of: &mut [Option<usize>],
    note_of: &mut [Option<usize>],
) {
    // One more column a note: staying alone. A stroke left over costs ALONE
    // too, which is written as a saving for each stroke that is used.
    const IMPOSSIBLE: i64 = 1_000_000;
    let columns = strokes.len() + notes.len();
    let mut costs = Matrix::new(notes.len(), columns, IMPOSSIBLE);
    for (row, i) in notes.iter().enumerate() {
        for column in strokes.len()..columns {
            costs[(row, column)] = ALONE;
        }
        for (j, cost) in &edges[*i] {
            if let Some(column) = strokes.iter().position(|stroke| stroke == j) {
                costs[(row, column)] = cost - ALONE;
            }
        }
    }
    let (_, chosen) = kuhn_munkres_min(&costs);
    for (i, column) in notes.iter().zip(chosen) {
        if let Some(j) = strokes.get(column) {
            stroke_of[*i] = Some(*j);
            note_of[*j] = Some(*i);
        }
    }
}
