//! Published measures of beats: M. E. P. Davies, N. Degara & M. D. Plumbley,
//! "Evaluation methods for musical audio beat tracking algorithms", Queen Mary
//! University of London, C4DM-TR-09-06, 2009.

/// Beats before this second are not counted.
const BEGIN_S: f64 = 5.0;
/// A beat as near as this, in seconds, is right (F-measure).
const NEAR_S: f64 = 0.07;
/// As a part of the beat's length, in place and in length (continuity).
const NEAR: f64 = 0.175;

/// F-measure, CMLt, AMLt of the beats `found`, seconds, in order.
pub fn all(truth: &[f64], found: &[f64]) -> [f64; 3] {
    let end = found.last().copied().unwrap_or(0.0) + 1.0;
    let within = |beats: &[f64]| -> Vec<f64> {
        beats.iter().copied().filter(|at| (BEGIN_S..=end).contains(at)).collect()
    };
    let (truth, found) = (within(truth), within(found));
    let cmlt = continuity(&truth, &found);
    let halves: Vec<f64> = truth.windows(2).map(|pair| (pair[0] + pair[1]) / 2.0).collect();
    let mut double = [&truth[..], &halves[..]].concat();
    double.sort_by(f64::total_cmp);
    let every_second =
        |from: usize| -> Vec<f64> { truth.iter().skip(from).step_by(2).copied().collect() };
    let amlt = [halves, double, every_second(0), every_second(1)]
        .iter()
        .map(|level| continuity(level, &found))
        .fold(cmlt, f64::max);
    [f_measure(&truth, &found), cmlt, amlt]
}

fn f_measure(truth: &[f64], found: &[f64]) -> f64 {
    let (mut hits, mut at) = (0, 0);
    for beat in found {
        while truth.get(at).is_some_and(|truth| *truth < beat - NEAR_S) {
            at += 1;
        }
        if truth.get(at).is_some_and(|truth| (truth - beat).abs() <= NEAR_S) {
            hits += 1;
            at += 1;
        }
    }
    2.0 * f64::from(hits) / (truth.len() + found.len()).max(1) as f64
}

/// The part of the beats that are right in place and length, as the one before.
fn continuity(truth: &[f64], found: &[f64]) -> f64 {
    if truth.len() < 2 {
        return 0.0;
    }
    let (mut right, mut was) = (0, true);
    for pair in found.windows(2) {
        let after = truth.partition_point(|truth| *truth < pair[1]);
        let near = |n: usize| truth.get(n).map_or(f64::INFINITY, |truth| (truth - pair[1]).abs());
        let nearest = match after.checked_sub(1) {
            Some(before) if near(before) < near(after) => before,
            _ => after.min(truth.len() - 1),
        };
        let from = nearest.max(1);
        let length = truth[from] - truth[from - 1];
        let is_right =
            near(nearest) < NEAR * length && ((pair[1] - pair[0]) / length - 1.0).abs() < NEAR;
        right += u32::from(is_right && was);
        was = is_right;
    }
    f64::from(right) / truth.len().max(found.len()) as f64
}
