//! Players of a tempo, steady or not: when their beats fall, and whether the tracker
//! follows them.

use sinistra_core::beat::{BeatPosition, PlayerStroke, Tracker};

use crate::hands::HandChance;

/// How far from the true beat is right, seconds.
const NEAR_S: f64 = 0.07;
/// A tempo is right within this part.
const NEAR: f64 = 0.3;

/// When each of so many beats falls, in seconds: at `tempo(beat)` a minute; some are
/// held for so many seconds more.
pub fn beats(tempo: &dyn Fn(f64) -> f64, beats: usize, holds: &[(usize, f64)]) -> Vec<f64> {
    let (mut at, mut truth) = (5.0, Vec::new());
    for beat in 0..beats {
        truth.push(at);
        for part in 0..100 {
            at += 0.6 / tempo(beat as f64 + f64::from(part) / 100.0);
        }
        at += holds.iter().filter(|(held, _)| *held == beat).map(|(_, s)| s).sum::<f64>();
    }
    truth
}

/// How late a hand is, in ms: each stroke up to `spread` early or late.
pub fn human(spread: f64, seed: u64) -> impl FnMut() -> f64 {
    const PARTS: u64 = 1 << 31;
    let mut chance = HandChance::new(seed * 77 + spread as u64);
    move || (chance.below(PARTS) as f64 / PARTS as f64 - 0.5) * 2.0 * spread
}

/// A chord every `step` beats, each `human()` ms late: the part of the beats after the
/// third chord at which the tracker, before it hears a chord there, is within 70 ms and
/// at the tempo (but where the beat is held); and the most beats in a row at which it is
/// not. `hint` is the tempo that it expects.
pub fn followed(
    truth: &[f64],
    holds: &[(usize, f64)],
    step: usize,
    hint: f64,
    mut human: impl FnMut() -> f64,
) -> (f64, u32) {
    let mut tracker = Tracker::new(truth[0], 0.0, hint, 4);
    let (mut right, mut all, mut lost, mut most) = (0, 0, 0, 0);
    for (n, pair) in truth.windows(2).enumerate().skip(1) {
        let BeatPosition { beat, tempo } = tracker.beat(pair[0]);
        if n > 2 * step {
            let off = (beat - beat.round()).abs() * 60.0 / tempo;
            let is_tempo = (tempo * (pair[1] - pair[0]) / 60.0 - 1.0).abs() < NEAR;
            let is_held = holds.iter().any(|(held, _)| *held == n);
            let is_right = off < NEAR_S && (is_tempo || is_held);
            all += 1;
            right += u32::from(is_right);
            lost = if is_right { 0 } else { lost + 1 };
            most = most.max(lost);
        }
        if n % step == 0 {
            tracker.hear(PlayerStroke::of_keys(pair[0] + human() / 1e3, 3), |_| false);
        }
    }
    (f64::from(right) / f64::from(all.max(1)), most)
}

/// The part of the same beats that can be right at best, where all that is known is when
/// the chords were struck, each `human()` ms late, and on which beats: until the next one
/// the tempo is that of the last gap, that of the gap before (what came between was held),
/// or goes on changing as it did, or does until the chord; of these, at each chord, the one
/// that turns out best.
pub fn foreseeable(truth: &[f64], step: usize, mut human: impl FnMut() -> f64) -> f64 {
    let (mut right, mut all) = (0, 0);
    let struck: Vec<f64> = truth.iter().map(|at| at + human() / 1e3).collect();
    let gap = |n: usize| (struck[n] - struck[n - step]) / step as f64;
    for n in (2 * step..truth.len() - step).step_by(step) {
        let (last, before) = (gap(n), gap(n - step));
        // Of a length that changes by as much in each beat, a gap has that of its middle.
        let change = (last / before).ln() / step as f64;
        let now = last * (0.5 * change * step as f64).exp();
        let ways: [&dyn Fn(f64) -> f64; 4] =
            [&|beats| last * beats, &|beats| before * beats, &|beats| now * beats, &|beats| {
                if change == 0.0 { now * beats } else { now * (change * beats).exp_m1() / change }
            }];
        let is_right = |way: &dyn Fn(f64) -> f64, beats: usize| {
            (struck[n] + way(beats as f64) - truth[n + beats]).abs() < NEAR_S
        };
        let counted =
            (1..=step).filter(|beats| n + beats > 2 * step && n + beats < truth.len() - 1);
        let beats: Vec<usize> = counted.collect();
        let count = |way: &dyn Fn(f64) -> f64| beats.iter().filter(|&&b| is_right(way, b)).count();
        right += ways.iter().map(|way| count(way)).max().unwrap_or(0);
        all += beats.len();
    }
    right as f64 / all.max(1) as f64
}
