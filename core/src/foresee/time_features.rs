//! What speaks for each moment as the time of the next change.

#![allow(
    clippy::indexing_slicing,
    reason = "columns of one length, cut to it before they are gone through"
)]

use crate::maths;
use arrayvec::ArrayVec;

use super::columns::{Columns, yes};
use super::event::{CAPACITY, RootSpan};
use super::history::History;
use super::repeats::{CLOSE, same_place};
use super::root_votes::{AT_ONCE, shares};
use super::running::{PLACES, ROUNDS, held_at, place_index};
use crate::time::Ticks;

/// Features of a candidate moment. Those of the moment of asking are shared
/// with the roots.
pub const OWN: usize = 63;
/// The most candidates.
pub const MOST: usize = 48;
/// Kinds of duration: the eighteen that songs in four use.
const KINDS: usize = 18;
const LAGS: [usize; 6] = [1, 2, 4, 8, 16, 32];
const LENGTHS: [u8; 6] = [1, 2, 3, 4, 6, 8];

/// Spans from the present chord's onset, rising.
pub type Spans = ArrayVec<Ticks, MOST>;

/// The spans worth thinking of: halves of the felt beat up to a bar, beats up
/// to two bars, half bars up to four, then six and eight bars; and whatever
/// else chords of this song lasted.
pub fn spans(history: &History) -> Spans {
    let mut spans = Spans::new();
    let Some((now, past)) = history.events().split_last() else { return spans };
    let (bar, pulse) = (now.bar_length, now.pulse);
    let mut offer = |span: Ticks, room: usize| {
        let fresh = spans.iter().all(|known: &Ticks| (*known - span).abs() >= CLOSE.min(pulse / 4));
        if span > Ticks::ZERO && fresh && spans.len() < room {
            spans.push(span);
        }
    };
    let steps = |step: Ticks, from: Ticks, to: Ticks| {
        let step = step.max(Ticks(1));
        (1..=to.div_euclid(step)).map(move |n| step * n).filter(move |span| *span > from)
    };
    steps(pulse / 2, Ticks::ZERO, bar).for_each(|span| offer(span, MOST - 16));
    steps(pulse, bar, bar * 2).for_each(|span| offer(span, MOST - 12));
    steps(half_bar(now), bar * 2, bar * 4).for_each(|span| offer(span, MOST - 8));
    [bar * 6, bar * 8].into_iter().for_each(|span| offer(span, MOST - 6));
    // A metre of one beat, or a bar of many: the bar itself is never left out.
    [bar, bar * 2].into_iter().for_each(|span| offer(span, MOST - 6));
    for j in (0..past.len()).rev().take(64) {
        let Some(event) = past.get(j) else { continue };
        let next = past.get(j + 1).unwrap_or(now);
        if event.ended.is_none() && event.root == now.root && next.at - event.at < bar * 8 {
            offer(next.at - event.at, MOST);
        }
    }
    spans.sort_unstable();
    spans
}

/// Half of the bar, where it is made of whole felt beats; else the bar.
fn half_bar(now: &RootSpan) -> Ticks {
    let half = now.bar_length / 2;
    if half.rem_euclid(now.pulse) == Ticks::ZERO { half } else { now.bar_length }
}

/// Which of the eighteen kinds of duration `span` is. In four: ½ 1 1½ 2 2½ 3
/// 3½ 4 5 6 7 8 10 12 14 16 24 32 beats; in other metres the like of these.
fn kind(span: Ticks, now: &RootSpan) -> usize {
    let bars = span.0 as f32 / now.bar_length.0 as f32;
    let near = |of: f32| (bars - of).abs() < 0.03;
    let whole = span.rem_euclid(now.pulse) == Ticks::ZERO;
    for (of, kind) in [
        (0.5, 3),
        (1.0, 7),
        (1.5, 9),
        (2.0, 11),
        (2.5, 12),
        (3.0, 13),
        (3.5, 14),
        (4.0, 15),
        (6.0, 16),
        (8.0, 17),
    ] {
        if near(of) {
            return kind;
        }
    }
    match (whole, bars) {
        (false, b) if b < 0.25 => 0,
        (true, b) if b < 0.5 => 1,
        (false, b) if b < 0.5 => 2,
        (false, b) if b < 0.75 => 4,
        (true, b) if b < 1.0 => 5,
        (false, b) if b < 1.0 => 6,
        (_, b) if b < 1.5 => 8,
        (_, b) if b < 2.0 => 10,
        (_, b) if b < 3.0 => 12,
        (_, b) if b < 4.0 => 14,
        (_, b) if b < 7.0 => 16,
        _ => 17,
    }
}

/// Index of the candidate that `span` is, to a quarter of a beat. `spans` rise.
fn nearest(spans: &[Ticks], span: Ticks) -> Option<usize> {
    let above = spans.partition_point(|known| *known < span);
    let off = |index: usize| spans.get(index).map(|known| (*known - span).abs());
    let below = above.checked_sub(1);
    let (distance, index) = match (below.and_then(off), off(above)) {
        (Some(lower), Some(upper)) if upper < lower => (upper, above),
        (Some(lower), _) => (lower, above - 1),
        (None, upper) => (upper?, above),
    };
    (distance <= CLOSE).then_some(index)
}

/// Answers of [`nearest`]: the chords of a song have few lengths.
struct NearestLengths([(i32, Option<usize>); 32]);

impl NearestLengths {
    fn new() -> Self {
        Self([(i32::MIN, None); 32])
    }

    fn nearest(&mut self, spans: &[Ticks], span: i32) -> Option<usize> {
        // Lengths are multiples of a twelfth of a beat, 80 ticks, or nearly.
        let known = &mut self.0[maths::ring((span / 80).into(), 32)];
        if known.0 != span {
            *known = (span, nearest(spans, Ticks(span.into())));
        }
        known.1
    }
}

/// Votes for the candidates.
type TimeVotes = [f32; MOST];

#[derive(Clone, Debug)]
struct BestTime {
    most: f32,
    index: Option<usize>,
}

impl BestTime {
    const NONE: Self = Self { most: 0.0, index: None };

    fn offer(&mut self, value: f32, index: usize) {
        if value > self.most {
            *self = Self { most: value, index: Some(index) };
        }
    }
}

/// All votes of one pass over the history.
#[derive(Clone, Debug)]
pub struct TimeTally {
    /// Chords that have yet to be looked at.
    left: usize,
    /// What the next one counts for, of those of late.
    fade: f32,
    counts: [TimeVotes; 6],
    exact: TimeVotes,
    exact_best: BestTime,
    placed: TimeVotes,
    placed_best: BestTime,
    roots: TimeVotes,
    timed: TimeVotes,
    timed_most: TimeVotes,
    timed_best: BestTime,
    soft: TimeVotes,
    soft_best: BestTime,
    any_root: TimeVotes,
    lately: TimeVotes,
}

impl TimeTally {
    /// Nothing was looked at.
    pub const NONE: Self = Self {
        left: 0,
        fade: 1.0,
        counts: [[0.0; MOST]; 6],
        exact: [0.0; MOST],
        exact_best: BestTime::NONE,
        placed: [0.0; MOST],
        placed_best: BestTime::NONE,
        roots: [0.0; MOST],
        timed: [0.0; MOST],
        timed_most: [0.0; MOST],
        timed_best: BestTime::NONE,
        soft: [0.0; MOST],
        soft_best: BestTime::NONE,
        any_root: [0.0; MOST],
        lately: [0.0; MOST],
    };

    /// Nothing of the history was looked at yet.
    pub fn begin(history: &History) -> Self {
        let left = history.line().at.len().saturating_sub(1).min(CAPACITY);
        Self { left, ..Self::NONE }
    }

    /// Looks at some more earlier chords, the latest first, by the candidates `spans`;
    /// whether any are left.
    pub fn look_on(&mut self, history: &History, spans: &[Ticks]) -> bool {
        let Some(now) = history.events().last() else { return false };
        let until = self.left;
        self.left = until.saturating_sub(AT_ONCE);
        let tally = self;
        let (repeats, line) = (history.repeats(), history.line());
        let mut known = NearestLengths::new();
        // Slices of one length, so that nothing in the loop is checked twice.
        let most = line.at.len().saturating_sub(1).min(CAPACITY);
        let (at, lasted) = (&line.at[..most], &line.spans[line.spans.len() - most..]);
        let (ended, exact) = (&line.ended[..most], &repeats.exact[..most]);
        let (roots, timed) = (&repeats.roots[..most], &repeats.timed[..most]);
        let soft_timed = &repeats.soft_timed[..most];
        for j in (tally.left..until.min(most)).rev() {
            tally.fade *= 0.97;
            if ended[j] {
                continue;
            }
            let Some(d) = known.nearest(spans, lasted[j]) else { continue };
            tally.lately[d] += tally.fade;
            let there = same_place(now.at - at[j], now.bar_length);
            if there {
                tally.any_root[d] += tally.fade;
            }
            let exact = exact[j];
            if exact > 0 {
                let length = f32::from(exact);
                tally.exact[d] = tally.exact[d].max(length);
                tally.exact_best.offer(length, d);
                for (votes, at_least) in tally.counts.iter_mut().zip(LENGTHS) {
                    votes[d] += yes(exact >= at_least);
                }
                if there {
                    tally.placed[d] += 1.0;
                    tally.placed_best.offer(length, d);
                }
            }
            tally.roots[d] += yes(roots[j] > 0);
            if timed[j] > 0 {
                let length = f32::from(timed[j]);
                tally.timed[d] += length;
                tally.timed_most[d] = tally.timed_most[d].max(length);
                tally.timed_best.offer(length, d);
            }
            if soft_timed[j] > tally.soft[d] {
                tally.soft[d] = soft_timed[j];
                tally.soft_best.offer(soft_timed[j], d);
            }
        }
        tally.left > 0
    }
}

/// Where the next change came, seen from the same place some bars ago:
/// candidate, whether the chord was the same, the trust in this round.
fn round(history: &History, bars: usize, spans: &[Ticks]) -> Option<(usize, bool, f32)> {
    let (now, past) = history.events().split_last()?;
    let then = now.at - now.bar_length * bars as i64;
    let first = past.first()?;
    if then < first.at {
        return None;
    }
    let held = held_at(past, then + CLOSE)?;
    let event = past.get(held)?;
    let next = past.get(held + 1).unwrap_or(now);
    let index = nearest(spans, next.at - then)?;
    let same = event.root == now.root && (event.at - then).abs() <= CLOSE;
    Some((index, same, history.running().change_rounds.get(bars - 1)?.trust()))
}

/// A value a candidate; the default where there is none.
fn per_span<T: Copy + Default>(spans: &[Ticks], of: impl Fn(Ticks) -> T) -> [T; MOST] {
    let mut values = [T::default(); MOST];
    values.iter_mut().zip(spans).for_each(|(value, span)| *value = of(*span));
    values
}

/// How long the chords that are like the present one lasted.
fn lasted(tally: &TimeTally, f: &mut Columns<'_, MOST>) {
    for votes in &tally.counts {
        f.column(shares(votes));
    }
    f.one(tally.exact_best.index);
    f.column(tally.exact.map(|length| length / 8.0));
    let (mut most, mut second) = (0.0, 0.0);
    for votes in tally.exact {
        second = if votes > most { most } else { f32::max(second, votes) };
        most = f32::max(most, votes);
    }
    f.column(tally.exact.map(|votes| (votes - if votes == most { second } else { most }) / 8.0));
    f.column(shares(&tally.placed));
    f.one(tally.placed_best.index);
    f.column(shares(&tally.roots));
    f.column(shares(&tally.timed));
    f.one(tally.timed_best.index);
    f.column(tally.timed_most.map(|length| length / 8.0));
    f.column(tally.soft.map(|likeness| likeness / 6.0));
    f.one(tally.soft_best.index);
    f.column(shares(&tally.any_root));
    f.column(shares(&tally.lately));
}

/// Fills the features of the candidates `spans`, as told by [`spans`], when all of the
/// history was looked at.
pub fn fill(
    history: &History,
    spans: &[Ticks],
    tally: &TimeTally,
    features: &mut [[f32; MOST]; OWN],
) {
    let Some((now, past)) = history.events().split_last() else { return };
    let running = history.running();
    let mut f = Columns::new(features);
    let kinds = per_span(spans, |span| kind(span, now));
    for which in 0..KINDS {
        f.column(kinds.map(|kind| yes(kind == which)));
    }
    lasted(tally, &mut f);
    for back in 0..4 {
        let lasted = past.len().checked_sub(back + 1).and_then(|k| {
            let event = past.get(k).filter(|event| event.ended.is_none())?;
            nearest(spans, past.get(k + 1).unwrap_or(now).at - event.at)
        });
        f.one(lasted);
    }
    let bar = now.bar_length;
    let from_four = bar * now.bar.rem_euclid(4) + now.offset;
    let ends_on = |round: Ticks| per_span(spans, |span| yes(same_place(from_four + span, round)));
    f.column(ends_on(now.pulse));
    for round in [half_bar(now), bar, bar * 2, bar * 4] {
        f.column(ends_on(round));
    }
    let in_bar = maths::count(bar.div_euclid((now.pulse / 2).max(Ticks(1))).max(1));
    let all: f32 = running.places.iter().sum();
    let places = per_span(spans, |span| place_index(now, now.at + span));
    for bars in [1, 2, 4] {
        let round = (bars * in_bar).clamp(1, PLACES);
        let mut used = [0.0; PLACES];
        for places in running.places.chunks(round) {
            used.iter_mut().zip(places).for_each(|(used, place)| *used += place);
        }
        f.column(places.map(|place| used[place % round] / all));
    }
    let (best, _) = (1..=ROUNDS).zip(&running.change_rounds).fold((0, 0.0), |best, (bars, r)| {
        if r.trust() > best.1 { (bars, r.trust()) } else { best }
    });
    for bars in LAGS.into_iter().chain([best]) {
        let found = if bars == 0 { None } else { round(history, bars, spans) };
        let (index, same, trust) = found.map_or((None, false, 0.0), |(d, s, t)| (Some(d), s, t));
        f.one(index.filter(|_| same));
        f.one_of(index, trust);
    }
    debug_assert_eq!(f.written(), OWN);
}
