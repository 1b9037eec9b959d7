//! How far the chords that end now repeat those that ended at each place before.
//!
//! Entry `j` compares the chords up to the present one with those up to the
//! `j`-th. Each new chord lengthens or breaks every comparison by one step,
//! so that a chord costs one pass over the history.

#![allow(
    clippy::indexing_slicing,
    reason = "columns of one length, cut to it before they are gone through"
)]

use alloc::boxed::Box;

use wide::u8x16;

use super::event::{CAPACITY, RootSpan};
use super::line::RootLine;
use crate::time::Ticks;

/// Durations and places that differ by less are the same: a bit over a
/// quarter of a beat.
pub const CLOSE: Ticks = Ticks(250);
/// No comparison counts for more chords than this.
const LONGEST: u8 = 16;
/// What a step further back is worth in the forgiving comparisons.
const FADE: f32 = 0.85;

type Lengths = Box<[u8; CAPACITY]>;
type RepeatWeights = Box<[f32; CAPACITY]>;

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
    pub soft: RepeatWeights,
    /// The same for roots and durations.
    pub soft_timed: RepeatWeights,
}

fn lengths() -> Lengths {
    Box::new([0; CAPACITY])
}

fn weights() -> RepeatWeights {
    Box::new([0.0; CAPACITY])
}

/// Places and spans agree to about a quarter of a beat, around the bar.
pub fn same_place(distance: Ticks, round: Ticks) -> bool {
    (distance + CLOSE).rem_euclid(round.max(Ticks(1))) < CLOSE * 2
}

/// One place on; nothing where there is none.
fn shift<T: Copy + Default>(new: &mut [T], old: &[T]) {
    let (first, rest) = new.split_at_mut(new.len().min(1));
    first.fill(T::default());
    let (kept, rest) = rest.split_at_mut(old.len());
    kept.copy_from_slice(old);
    rest.fill(T::default());
}

/// Where `root` is among `roots`.
pub fn places_of(root: u8, roots: &[u8]) -> impl Iterator<Item = usize> {
    const SIDE: usize = 16;
    let sixteen = move |(n, roots): (usize, &[u8])| {
        let mut here = [u8::MAX; SIDE];
        here[..roots.len()].copy_from_slice(roots);
        let is = u8x16::from(here).simd_eq(u8x16::splat(root)).to_bitmask();
        let mut left = if root == u8::MAX { 0 } else { is };
        core::iter::from_fn(move || {
            let place = left.trailing_zeros() as usize;
            left &= left.wrapping_sub(1);
            (place < SIDE).then_some(SIDE * n + place)
        })
    };
    roots.chunks(SIDE).enumerate().flat_map(sixteen)
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

    /// Becomes what `before` is once `now`, the last of `line`, has come. Each
    /// comparison is one loop without a branch, so that many are done at once.
    pub fn follow(&mut self, before: &Self, now: &RootSpan, line: &RootLine) {
        let past = line.at.len().saturating_sub(1).min(CAPACITY);
        let kept = self.step_from(before, past);
        if past == 0 {
            return;
        }
        let (moved, held) = (line.moves[past], line.spans[past]);
        let (roots, triads) = (&line.roots[..past], &line.triads[..past]);
        let (moves, spans) = (&line.moves[..past], &line.spans[..past]);
        let longer = |length: u8, yes: bool| if yes { (length + 1).min(LONGEST) } else { 0 };
        let close_enough = i32::try_from(CLOSE.0).unwrap_or(0);
        let close = |span: i32| (span - held).abs() < close_enough;
        let triad = now.triad as u8;
        for ((length, root), other) in self.exact.iter_mut().zip(roots).zip(triads) {
            *length = longer(*length, (*root == now.root) & (*other == triad));
        }
        for (length, root) in self.roots.iter_mut().zip(roots) {
            *length = longer(*length, *root == now.root);
        }
        for (length, other) in self.moves.iter_mut().zip(moves) {
            *length = longer(*length, *other == moved);
        }
        for ((soft, root), other) in self.soft.iter_mut().zip(roots).zip(triads) {
            let like = if *other == triad { 1.0 } else { 0.8 };
            *soft = FADE * *soft + if *root == now.root { like } else { 0.0 };
        }
        let alike = roots.iter().zip(triads).zip(spans);
        for (soft, ((root, other), span)) in self.soft_timed.iter_mut().zip(alike) {
            let like = if *other == triad { 1.0 } else { 0.8 };
            let (same, other) = if close(*span) { (like, 0.3) } else { (0.4, 0.0) };
            *soft = FADE * *soft + if *root == now.root { same } else { other };
        }
        let same = |j: &usize| same_place(now.at - line.at[*j], now.bar_length);
        self.timed[..past].fill(0);
        for j in places_of(now.root, roots).filter(same) {
            let before = if j > 0 && j <= kept { before.timed[j - 1] } else { 0 };
            self.timed[j] = if close(spans[j]) { longer(before, true) } else { 1 };
        }
        // The first chord has none before it: whatever its span, it was no move.
        self.moves[0] = 0;
        let same = roots[0] == now.root;
        self.soft_timed[0] = match (same, triads[0] == triad) {
            (true, true) => 1.0,
            (true, false) => 0.8,
            (false, _) => 0.3,
        };
        self.timed[0] = u8::from(same && same_place(now.at - line.at[0], now.bar_length));
    }

    /// Every comparison but the timed as it was with the chord before, `len` of them;
    /// gives how many there were.
    fn step_from(&mut self, before: &Self, len: usize) -> usize {
        let kept = before.len.min(len.saturating_sub(1));
        let lengths = |new: &mut [u8], old: &[u8]| shift(&mut new[..len], &old[..kept]);
        lengths(&mut *self.exact, &*before.exact);
        lengths(&mut *self.roots, &*before.roots);
        lengths(&mut *self.moves, &*before.moves);
        let weights = |new: &mut [f32], old: &[f32]| shift(&mut new[..len], &old[..kept]);
        weights(&mut *self.soft, &*before.soft);
        weights(&mut *self.soft_timed, &*before.soft_timed);
        self.len = len;
        kept
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
