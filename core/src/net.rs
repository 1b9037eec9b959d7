//! A small network that gives every candidate a score.
//!
//! score = direct · f + out · max(0, f W + g V + bias), the same weights for
//! all candidates: f describes the candidate, g the moment.

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
            8 => self.score_wide::<8, C>(features, moment, scores),
            12 => self.score_wide::<12, C>(features, moment, scores),
            16 => self.score_wide::<16, C>(features, moment, scores),
            24 => self.score_wide::<24, C>(features, moment, scores),
            _ => debug_assert!(false, "a network of a width that is not provided for"),
        }
    }

    fn score_wide<const W: usize, const C: usize>(
        &self,
        features: &[[f32; C]],
        moment: &[f32],
        scores: &mut [f32],
    ) {
        let mut base = [0.0; W];
        for (unit, bias) in base.iter_mut().zip(self.bias) {
            *unit = *bias;
        }
        let (own, shared) = (self.own.as_chunks::<W>().0, self.shared.as_chunks::<W>().0);
        add_rows(&mut base, moment, shared);
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
            let bent: f32 = hidden.iter().zip(self.out).map(|(h, w)| h.max(0.0) * w).sum();
            *score = direct + bent;
        }
    }
}

/// Adds the row of every feature that is not 0; most are.
fn add_rows<const W: usize>(hidden: &mut [f32; W], features: &[f32], rows: &[[f32; W]]) {
    for (&feature, row) in features.iter().zip(rows) {
        if feature != 0.0 {
            add_row(hidden, feature, row);
        }
    }
}

#[inline(always)]
fn add_row<const W: usize>(hidden: &mut [f32; W], feature: f32, row: &[f32; W]) {
    for (unit, weight) in hidden.iter_mut().zip(row) {
        *unit += feature * weight;
    }
}

/// Turns scores into odds that sum to 1. Candidates at `f32::MIN` get none.
pub fn softmax(scores: &mut [f32]) {
    let most = scores.iter().copied().fold(f32::MIN, f32::max);
    for score in scores.iter_mut() {
        *score = if *score == f32::MIN { 0.0 } else { crate::nats::odds(*score - most) };
    }
    let sum: f32 = scores.iter().sum();
    for score in scores.iter_mut() {
        *score /= sum.max(1e-12);
    }
}
