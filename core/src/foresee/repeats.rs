//! How far the chords that end now repeat those that ended at each place before.
//!
//! Entry `j` compares the chords up to the present one with those up to the
//! `j`-th. Each new chord lengthens or breaks every comparison by one step,
//! so that a chord costs one pass over the history.

use super::history::{Event, History};

/// Durations and places that differ by less are the same: a bit over a
/// quarter of a beat.
pub const CLOSE: i64 = 250;
/// No comparison counts for more chords than this.
const LONGEST: u8 = 16;
/// What a step further back is worth in the forgiving comparisons.
const FADE: f32 = 0.85;

type Lengths = Box<[u8; History::CAPACITY]>;
type Weights = Box<[f32; History::CAPACITY]>;

/// One comparison for each earlier chord. Plain arrays of fixed size.
#[derive(Clone, Debug)]
pub struct Repeats {
    len: usize,
    /// Chords in a row with the same root and triad.
    pub exact: Lengths,
    /// Chords in a row with the same root.
    pub roots: Lengths,
    /// Root movements in a row that are the same: repeats in another key.
    pub moves: Lengths,
    /// Same roots with the same durations, at the same place in the bar.
    pub timed: Lengths,
    /// Forgiving of fluffed chords: each agreement counts, fading.
    pub soft: Weights,
    /// The same for roots and durations.
    pub soft_timed: Weights,
}

fn lengths() -> Lengths {
    Box::new([0; History::CAPACITY])
}

fn weights() -> Weights {
    Box::new([0.0; History::CAPACITY])
}

/// Places and spans agree to about a quarter of a beat, around the bar.
pub fn same_place(distance: i64, round: i64) -> bool {
    (distance + CLOSE).rem_euclid(round.max(1)) < 2 * CLOSE
}

impl Default for Repeats {
    fn default() -> Self {
        Self::new()
    }
}

impl Repeats {
    /// Allocates once.
    pub fn new() -> Self {
        Self {
            len: 0,
            exact: lengths(),
            roots: lengths(),
            moves: lengths(),
            timed: lengths(),
            soft: weights(),
            soft_timed: weights(),
        }
    }

    /// Nothing to compare with.
    pub fn clear(&mut self) {
        self.len = 0;
    }

    /// Becomes a copy of `other`.
    pub fn copy_from(&mut self, other: &Self) {
        self.len = other.len;
        *self.exact = *other.exact;
        *self.roots = *other.roots;
        *self.moves = *other.moves;
        *self.timed = *other.timed;
        *self.soft = *other.soft;
        *self.soft_timed = *other.soft_timed;
    }

    /// Becomes what `before` is once the last of `events` has come.
    pub fn follow(&mut self, before: &Self, events: &[Event]) {
        let Some((now, past)) = events.split_last() else { return self.clear() };
        let held = past.last().map_or(0, |last| now.at - last.at);
        let moved = past.last().map(|last| (now.root + 12 - last.root) % 12);
        self.len = past.len().min(History::CAPACITY);
        let mut old = Old::default();
        let mut earlier: Option<&Event> = None;
        for (j, event) in past.iter().enumerate().take(History::CAPACITY) {
            let same_root = event.root == now.root;
            let same = same_root && event.triad == now.triad;
            let same_span = earlier.is_none_or(|e| (event.at - e.at - held).abs() < CLOSE);
            let same_move = earlier.is_some_and(|e| Some((event.root + 12 - e.root) % 12) == moved);
            let longer = |length: u8, yes: bool| if yes { (length + 1).min(LONGEST) } else { 0 };
            let kept = Old::at(before, j);
            self.exact[j] = longer(old.exact, same);
            self.roots[j] = longer(old.roots, same_root);
            self.moves[j] = longer(old.moves, same_move);
            let there = same_root && same_place(now.at - event.at, now.bar_ticks);
            self.timed[j] = if there && !same_span { 1 } else { longer(old.timed, there) };
            self.soft[j] = FADE * old.soft
                + if same {
                    1.0
                } else if same_root {
                    0.8
                } else {
                    0.0
                };
            self.soft_timed[j] = FADE * old.soft_timed
                + match (same_root, same_span) {
                    (true, true) if same => 1.0,
                    (true, true) => 0.8,
                    (true, false) => 0.4,
                    (false, true) => 0.3,
                    (false, false) => 0.0,
                };
            old = kept;
            earlier = Some(event);
        }
    }

    /// The `gone` oldest chords are no longer remembered.
    pub fn forget_oldest(&mut self, gone: usize) {
        let gone = gone.min(self.len);
        for lengths in [&mut self.exact, &mut self.roots, &mut self.moves, &mut self.timed] {
            lengths.copy_within(gone..self.len, 0);
        }
        for weights in [&mut self.soft, &mut self.soft_timed] {
            weights.copy_within(gone..self.len, 0);
        }
        self.len -= gone;
    }
}

/// The comparison one step back.
#[derive(Clone, Copy, Default)]
struct Old {
    exact: u8,
    roots: u8,
    moves: u8,
    timed: u8,
    soft: f32,
    soft_timed: f32,
}

impl Old {
    fn at(before: &Repeats, j: usize) -> Self {
        if j >= before.len {
            return Self::default();
        }
        Self {
            exact: before.exact[j],
            roots: before.roots[j],
            moves: before.moves[j],
            timed: before.timed[j],
            soft: before.soft[j],
            soft_timed: before.soft_timed[j],
        }
    }
}
