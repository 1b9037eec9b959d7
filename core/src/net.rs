//! A small network that gives every candidate a score.
//!
//! score = direct · f + out · max(0, f W + g V + bias), the same weights for
//! all candidates: f describes the candidate, g the moment.

use wide::f32x4;

/// Its weights. Rows of `own` belong to the features of a candidate, rows of
/// `shared` to those of the moment; each row has a weight a hidden unit.
#[derive(Clone, Copy, Debug)]
pub struct Net {
    /// A weight a feature of the candidate.
    pub direct: &'static [f32],
    /// A row a feature of the candidate.
    pub own: &'static [f32],
    /// A row a feature of the moment.
    pub shared: &'static [f32],
    /// One a hidden unit.
    pub bias: &'static [f32],
    /// One a hidden unit.
    pub out: &'static [f32],
}

impl Net {
    /// A score for each candidate, written to `scores`: as many of each column
    /// of `features` as there are scores.
    pub fn score<const C: usize>(&self, features: &[[f32; C]], moment: &[f32], scores: &mut [f32]) {
        // Known to the compiler, the width costs a third of what it costs else.
        match self.bias.len() {
            12 => self.score_wide::<12, 3, C>(features, moment, scores),
            16 => self.score_wide::<16, 4, C>(features, moment, scores),
            24 => self.score_wide::<24, 6, C>(features, moment, scores),
            _ => debug_assert!(false, "a network of a width that is not provided for"),
        }
    }

    /// With so many hidden units, four side by side.
    fn score_wide<const WIDTH: usize, const FOURS: usize, const C: usize>(
        &self,
        features: &[[f32; C]],
        moment: &[f32],
        scores: &mut [f32],
    ) {
        let (own, shared) = (self.own.as_chunks::<WIDTH>().0, self.shared.as_chunks::<WIDTH>().0);
        let mut base = fours::<FOURS>(self.bias);
        for (&feature, row) in moment.iter().zip(shared) {
            add_row(&mut base, feature, row);
        }
        let out = fours::<FOURS>(self.out);
        // A candidate at a time, so that its sums stay in registers.
        for (candidate, score) in scores.iter_mut().enumerate().take(C) {
            let (mut hidden, mut direct) = (base, 0.0);
            for ((column, row), nats) in features.iter().zip(own).zip(self.direct) {
                let feature = column.get(candidate).copied().unwrap_or(0.0);
                if feature != 0.0 {
                    add_row(&mut hidden, feature, row);
                    direct += feature * nats;
                }
            }
            let bent = hidden.iter().zip(&out).map(|(h, w)| h.fast_max(f32x4::ZERO) * *w);
            *score = direct + bent.flat_map(f32x4::to_array).sum::<f32>();
        }
    }
}

/// A number a hidden unit, four side by side.
#[inline(always)]
fn fours<const FOURS: usize>(row: &[f32]) -> [f32x4; FOURS] {
    let mut fours = [f32x4::ZERO; FOURS];
    fours.iter_mut().zip(row.as_chunks::<4>().0).for_each(|(to, four)| *to = f32x4::from(*four));
    fours
}

/// Adds the row of a feature.
#[inline(always)]
fn add_row<const WIDTH: usize, const FOURS: usize>(
    hidden: &mut [f32x4; FOURS],
    feature: f32,
    row: &[f32; WIDTH],
) {
    let feature = f32x4::splat(feature);
    for (units, weights) in hidden.iter_mut().zip(row.as_chunks::<4>().0) {
        *units += feature * f32x4::from(*weights);
    }
}

/// Turns scores into odds that sum to 1. Candidates at `f32::MIN` get none.
pub fn softmax(scores: &mut [f32]) {
    let most = scores.iter().copied().fold(f32::MIN, f32::max);
    for score in scores.iter_mut() {
        *score = if *score == f32::MIN { f32::NEG_INFINITY } else { *score - most };
    }
    crate::nats::all_odds(scores);
    let sum: f32 = scores.iter().sum();
    for score in scores.iter_mut() {
        *score /= sum.max(1e-12);
    }
}
