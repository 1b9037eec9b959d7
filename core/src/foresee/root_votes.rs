//! What followed the earlier chords that are like the present one: votes
//! for the twelve roots, from one pass over the history. A chord that the ear by now
//! doubts has so much less to say of what followed the one before it.

#![allow(
    clippy::indexing_slicing,
    reason = "columns of one length, cut to it before they are gone through"
)]

use super::columns::yes;
use super::event::{CAPACITY, LATE, RootSpan};
use super::history::History;
use super::repeats::same_place;
use crate::maths;
use crate::time::Ticks;

/// Lengths of repeats that are counted apart.
const LENGTHS: [u8; 6] = [1, 2, 3, 4, 6, 8];

/// Votes for the twelve roots.
pub type RootVotes = [f32; 12];

/// Shares of the votes; half a vote is held back for doubt.
pub fn shares<const N: usize>(votes: &[f32; N]) -> [f32; N] {
    let all = votes.iter().sum::<f32>() + 0.5;
    votes.map(|votes| votes / all)
}

/// Logarithms of the shares, so that voices multiply where shares are added.
pub fn log_shares(shares: &RootVotes) -> RootVotes {
    shares.map(|share| maths::ln(share + 0.01))
}

/// What a likeness is worth beside others: one of eight chords in a row (about
/// 5) as much as hundreds of a single chord (1).
fn sharp(likeness: f32) -> f32 {
    let square = likeness * likeness;
    square * square
}

/// How far each root is ahead of the next best.
pub fn leads(votes: &RootVotes) -> RootVotes {
    let (mut most, mut second) = (0.0f32, 0.0f32);
    for &votes in votes {
        second = if votes > most { most } else { second.max(votes) };
        most = most.max(votes);
    }
    votes.map(|votes| votes - if votes == most { second } else { most })
}

/// The best place of one way of comparing.
#[derive(Clone, Debug, Default)]
pub struct BestPlace {
    pub most: f32,
    pub root: Option<usize>,
}

impl BestPlace {
    /// Keeps the most for each root in `votes`, and here the most of all.
    fn offer_to(&mut self, votes: &mut RootVotes, value: f32, root: usize) {
        if value > votes[root] {
            votes[root] = value;
            if value > self.most {
                *self = Self { most: value, root: Some(root) };
            }
        }
    }
}

/// How many chords are looked at in one part of a thought.
pub const AT_ONCE: usize = 192;

/// All votes of one pass over the history.
#[derive(Clone, Debug, Default)]
pub struct RootTally {
    /// Chords that have yet to be looked at.
    left: usize,
    pub exact: RootVotes,
    pub exact_counts: [RootVotes; 6],
    pub exact_best: BestPlace,
    pub roots: RootVotes,
    pub root_counts: [RootVotes; 3],
    pub root_best: BestPlace,
    pub moves: RootVotes,
    pub move_counts: [RootVotes; 2],
    pub move_most: f32,
    pub timed: RootVotes,
    pub timed_sum: RootVotes,
    pub timed_best: BestPlace,
    pub soft: RootVotes,
    pub soft_best: BestPlace,
    pub soft_timed: RootVotes,
    pub soft_timed_best: BestPlace,
    /// Whether or not the present chord agrees: it may be misheard.
    pub loose: RootVotes,
    pub loose_best: BestPlace,
    /// All that is alike, however often a chord of it was misheard.
    pub alike: RootVotes,
    pub alike_timed: RootVotes,
    pub same_bar_place: RootVotes,
    pub same_four_bars: [RootVotes; 2],
    pub same_eight_bars: RootVotes,
}

impl RootTally {
    /// Nothing of the history was looked at yet.
    pub fn begin(history: &History) -> Self {
        let left = history.line().roots.len().saturating_sub(1).min(CAPACITY);
        Self { left, ..Self::default() }
    }

    /// Looks at what followed some more earlier chords, the latest first; only at
    /// those that lasted for longer than `held`. Whether any are left.
    pub fn look_on(&mut self, history: &History, now: &RootSpan, held: Ticks) -> bool {
        let until = self.left;
        self.left = until.saturating_sub(AT_ONCE);
        let tally = self;
        let (repeats, line) = (history.repeats(), history.line());
        let too_short = held - LATE / 2;
        // Slices of one length, so that nothing in the loop is checked twice.
        let most = line.roots.len().saturating_sub(1).min(CAPACITY);
        let (this, next) = (&line.roots[..most], &line.roots[line.roots.len() - most..]);
        let (spans, at) = (&line.spans[line.spans.len() - most..], &line.at[..most]);
        let (exact, roots) = (&repeats.exact[..most], &repeats.roots[..most]);
        let (moves, timed) = (&repeats.moves[..most], &repeats.timed[..most]);
        let (soft, soft_timed) = (&repeats.soft[..most], &repeats.soft_timed[..most]);
        let sure = &line.sure[line.sure.len() - most..];
        for j in (tally.left..until.min(most)).rev() {
            let (this, next) = (this[j], next[j]);
            if (next == now.root && this == now.root) || i64::from(spans[j]) <= too_short.0 {
                continue;
            }
            if moves[j] >= 1 && this != now.root {
                let root = usize::from(next + now.root + 12 - this) % 12;
                tally.transposed(root, moves[j], sure[j]);
            }
            if next == now.root {
                continue;
            }
            let root = usize::from(next) % 12;
            tally.loose_best.offer_to(&mut tally.loose, sure[j] * soft[j], root);
            tally.alike[root] += sure[j] * sharp(soft[j]);
            tally.alike_timed[root] += sure[j] * sharp(soft_timed[j]);
            if roots[j] == 0 {
                continue;
            }
            tally.exact(root, exact[j], sure[j]);
            tally.roots(root, roots[j], now, at[j], sure[j]);
            if timed[j] > 0 {
                let length = f32::from(timed[j]);
                tally.timed_sum[root] += sure[j] * length;
                tally.timed_best.offer_to(&mut tally.timed, sure[j] * length, root);
            }
            tally.soft_best.offer_to(&mut tally.soft, sure[j] * soft[j], root);
            tally.soft_timed_best.offer_to(&mut tally.soft_timed, sure[j] * soft_timed[j], root);
        }
        tally.left > 0
    }

    fn exact(&mut self, root: usize, length: u8, sure: f32) {
        if length == 0 {
            return;
        }
        self.exact_best.offer_to(&mut self.exact, sure * f32::from(length), root);
        for (votes, at_least) in self.exact_counts.iter_mut().zip(LENGTHS) {
            votes[root] += sure * yes(length >= at_least);
        }
    }

    fn roots(&mut self, root: usize, length: u8, now: &RootSpan, at: Ticks, sure: f32) {
        self.root_best.offer_to(&mut self.roots, sure * f32::from(length), root);
        for (votes, at_least) in self.root_counts.iter_mut().zip([1, 2, 4]) {
            votes[root] += sure * yes(length >= at_least);
        }
        let (apart, bar) = (now.at - at, now.bar_length);
        if !same_place(apart, bar) {
            return;
        }
        self.same_bar_place[root] += sure;
        if same_place(apart, bar * 4) {
            self.same_four_bars[0][root] += sure;
            self.same_four_bars[1][root] += sure * yes(length >= 2);
        }
        self.same_eight_bars[root] += sure * yes(same_place(apart, bar * 8));
    }

    fn transposed(&mut self, root: usize, moves: u8, sure: f32) {
        let length = f32::from(moves) + 1.0;
        self.moves[root] = self.moves[root].max(length);
        self.move_most = self.move_most.max(length);
        for (votes, at_least) in self.move_counts.iter_mut().zip([3.0, 6.0]) {
            votes[root] += sure * yes(length >= at_least);
        }
    }
}
