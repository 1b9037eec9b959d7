//! What speaks for each of the twelve roots as the next one.

use super::columns::{Columns, MomentRow, yes};
use super::event::RootSpan;
use super::history::History;
use super::odds::OddsTable;
use super::repeats::CLOSE;
use super::root_votes::{RootTally, leads, log_shares, shares};
use super::running::{ROUNDS, held_at};
use crate::maths;
use crate::pitch::PitchClass;
use crate::time::Ticks;

/// Features of a candidate root.
pub const OWN: usize = 90;
/// Features of the moment.
pub const SHARED: usize = 60;
/// Bars back that are looked at one by one; the best of all is added.
const LAGS: [usize; 6] = [1, 2, 4, 8, 16, 32];

/// What came after the same place some bars ago.
struct BarsAgo {
    root: Option<usize>,
    same: bool,
    trust: f32,
}

fn round(history: &History, bars: usize, at: Ticks) -> Option<BarsAgo> {
    let (now, past) = history.events().split_last()?;
    let then = at - now.bar_length * bars as i64;
    let held = held_at(past, then)?;
    let same = past.get(held)?.root == now.root;
    let next = past.get(held + 1..).unwrap_or(&[]).iter().find(|event| event.root != now.root)?;
    let trust = history.running().rounds.get(bars - 1)?.trust();
    Some(BarsAgo { root: Some(usize::from(next.root)), same, trust })
}

/// Bars of the round that has served best, and how well.
fn best_round(history: &History) -> (usize, f32) {
    let mut best = (0, 0.0);
    for (bars, record) in (1..=ROUNDS).zip(&history.running().rounds) {
        if record.trust() > best.1 {
            best = (bars, record.trust());
        }
    }
    best
}

/// Looks at some more of `history`, whose last chord still holds at `at`; whether any
/// of it is left.
pub fn look_on(history: &History, at: Ticks, tally: &mut RootTally) -> bool {
    let now = history.events().last();
    now.is_some_and(|now| tally.look_on(history, now, (at - now.at).max(Ticks::ZERO)))
}

/// Fills the features of the twelve roots (C first) as the one after the
/// last chord of `history`, which at `at` still holds, when all of it was looked at.
/// `moment` holds those of the moment. Nothing is written while nothing was heard.
pub fn fill(
    history: &History,
    at: Ticks,
    tally: &RootTally,
    features: &mut [[f32; 12]; OWN],
    moment: &mut [f32; SHARED],
) {
    let Some((now, past)) = history.events().split_last() else { return };
    let held = (at - now.at).max(Ticks::ZERO);
    let (bars, trust) = best_round(history);
    own(history, now, past, at.max(now.at), tally, bars, features);
    shared(history, now, past, held, tally, trust, moment);
}

fn own(
    history: &History,
    now: &RootSpan,
    past: &[RootSpan],
    at: Ticks,
    tally: &RootTally,
    best_bars: usize,
    features: &mut [[f32; 12]; OWN],
) {
    let running = history.running();
    let mut f = Columns::new(features);
    for interval in 1..12 {
        f.one(Some((usize::from(now.root) + interval) % 12));
    }
    followed(tally, &mut f);
    for bars in LAGS.into_iter().chain([best_bars]) {
        let found = if bars == 0 { None } else { round(history, bars, at) };
        let (root, same, trust) =
            found.map_or((None, 0.0, 0.0), |r| (r.root, yes(r.same), r.trust));
        f.one_of(root, same);
        f.one_of(root, trust);
    }
    let used = running.used.iter().sum::<f32>().max(1e-6);
    f.column(running.used.map(|often| often / used));
    let since = running.last_seen.map(|seen| seen.map(|seen| past.len().saturating_sub(seen)));
    f.column(since.map(|since| since.map_or(0.0, |n| 1.0 / (1.0 + n as f32))));
    f.column(since.map(|since| yes(since.is_none())));
    for back in 1..8 {
        let event = (past.len() + 1).checked_sub(back + 1).and_then(|k| past.get(k));
        f.one(event.map(|event| usize::from(event.root)));
    }
    let trust = running.odds_served.clamp(0.0, 2.0);
    let mut mixed = [0.0; 12];
    for chain in &running.chains {
        f.column(chain.map(|odds| maths::ln(odds + 1e-3)));
        for (sum, odds) in mixed.iter_mut().zip(chain) {
            *sum += odds / OddsTable::CHAINS as f32;
        }
    }
    f.column(mixed.map(|odds| trust * maths::ln(odds + 1e-3)));
    let keys = running.key_odds();
    for degree in 0..12 {
        f.column(core::array::from_fn(|root| PitchClass::at(root + 12 - degree).of(&keys)));
    }
    debug_assert_eq!(f.written(), OWN);
}

/// What followed the chords that are like the present one.
fn followed(tally: &RootTally, f: &mut Columns<'_, 12>) {
    f.column(tally.exact.map(|length| length / 8.0));
    f.one(tally.exact_best.root);
    f.column(leads(&tally.exact).map(|lead| lead / 8.0));
    for votes in &tally.exact_counts {
        f.column(shares(votes));
    }
    f.column(tally.roots.map(|length| length / 8.0));
    f.one(tally.root_best.root);
    for votes in &tally.root_counts {
        f.column(shares(votes));
    }
    f.column(tally.moves.map(|length| length / 8.0));
    for votes in &tally.move_counts {
        f.column(shares(votes));
    }
    f.column(tally.timed.map(|length| length / 8.0));
    f.one(tally.timed_best.root);
    f.column(shares(&tally.timed_sum));
    for (votes, best) in [
        (&tally.soft, &tally.soft_best),
        (&tally.soft_timed, &tally.soft_timed_best),
        (&tally.loose, &tally.loose_best),
    ] {
        f.column(votes.map(|likeness| likeness / 6.0));
        f.one(best.root);
        f.column(leads(votes).map(|lead| lead / 6.0));
    }
    for votes in [&tally.alike, &tally.alike_timed] {
        let shares = shares(votes);
        f.column(shares);
        f.column(log_shares(&shares));
    }
    f.column(shares(&tally.same_bar_place));
    for votes in &tally.same_four_bars {
        f.column(shares(votes));
    }
    f.column(shares(&tally.same_eight_bars));
}

fn shared(
    history: &History,
    now: &RootSpan,
    past: &[RootSpan],
    held: Ticks,
    tally: &RootTally,
    best_trust: f32,
    moment: &mut [f32; SHARED],
) {
    let running = history.running();
    let bar = now.bar_length.0 as f32;
    let mut g = MomentRow::new(moment);
    g.one_of(Some(now.triad as usize), 7);
    g.one_of(Some(beat_kind(now)), 5);
    let into = now.offset.0 as f32 / bar;
    g.push((now.bar.rem_euclid(2) as f32 + into) / 2.0);
    g.push((now.bar.rem_euclid(4) as f32 + into) / 4.0);
    g.push(maths::ln_1p(running.count as f32) / 5.0);
    g.push(tally.exact_best.most / 8.0);
    for votes in &tally.exact_counts {
        g.push(maths::ln_1p(votes.iter().sum()) / 3.0);
    }
    g.push(tally.soft_best.most / 6.0);
    g.push(tally.soft_timed_best.most / 6.0);
    g.push(tally.move_most / 8.0);
    g.push(tally.timed_best.most / 8.0);
    g.push(running.guessed_right);
    g.push(best_trust);
    g.push(running.last_seen.iter().flatten().count() as f32 / 8.0);
    let before = past.last();
    g.push(yes(before.is_some_and(|event| event.ended.is_some())));
    let lasted = before.map(|event| (now.at - event.at).0 as f32 / bar);
    g.one_of(lasted.map(length_kind), 6);
    let moved = |to: Option<&RootSpan>, from: Option<&RootSpan>| {
        Some(usize::from((to?.root + 12 - from?.root) % 12))
    };
    g.one_of(moved(Some(now), before), 12);
    g.one_of(before.map(|event| event.triad.coarse()), 3);
    let second = past.len().checked_sub(2).and_then(|k| past.get(k));
    g.push(yes(second.is_some_and(|event| event.root == now.root)));
    let third = past.len().checked_sub(4).and_then(|k| past.get(k));
    g.push(yes(third.is_some_and(|event| event.root == now.root)));
    g.push(running.odds_served);
    let most = running.key_odds().into_iter().fold(0.0, f32::max);
    g.push(most);
    let long = held.0 as f32;
    g.push(long / bar);
    g.push(yes(held > CLOSE));
    g.push(yes(long >= 0.5 * bar));
    g.push(yes(long >= 0.99 * bar));
    g.push((past.len() as f32 / 16.0).min(1.0));
    debug_assert_eq!(g.written(), SHARED);
}

/// Bar line 0, half of the bar 1, another beat 2, an "and" 3, else 4.
pub fn beat_kind(event: &RootSpan) -> usize {
    let off = |step: Ticks| event.offset.rem_euclid(step.max(Ticks(1))) != Ticks::ZERO;
    match event.offset {
        Ticks::ZERO => 0,
        half if half * 2 == event.bar_length => 1,
        _ if !off(event.pulse) => 2,
        _ if !off(event.pulse / 2) => 3,
        _ => 4,
    }
}

/// Lengths in bars, in six kinds.
pub fn length_kind(bars: f32) -> usize {
    [0.32, 0.57, 0.82, 1.07, 2.07].into_iter().filter(|limit| bars >= *limit).count()
}
