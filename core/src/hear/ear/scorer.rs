//! The scorer: how likely each of the twelve roots is, from the signs.
//!
//! One small network shared by all candidates (a hidden layer of
//! [`HIDDEN`] rectified sums), softmax over the twelve. Weights: `weights.rs`,
//! learned by `tools/hear/train_ear.py`.

use super::signs::{CLASSES, GLOBALS, SCALARS, STEPS, Signs};

/// Values a candidate is seen by.
pub const INPUTS: usize = 12 * (CLASSES + STEPS) + SCALARS;

/// Sums of the hidden layer.
pub const HIDDEN: usize = 16;

/// What the scorer has learned.
#[derive(Clone, Debug, PartialEq)]
pub struct Weights {
    /// What each input speaks for a candidate, in nats.
    pub direct: [f32; INPUTS],
    /// From the inputs to the hidden layer.
    pub inner: [[f32; HIDDEN]; INPUTS],
    /// From what is the same for all candidates to the hidden layer.
    pub global: [[f32; HIDDEN]; GLOBALS],
    /// Added to the hidden layer.
    pub bias: [f32; HIDDEN],
    /// From the hidden layer to nats.
    pub out: [f32; HIDDEN],
}

impl Weights {
    /// From all of them in a row, in the order of the fields; for training.
    /// Missing ones are zero.
    pub fn from_row(row: impl IntoIterator<Item = f32>) -> Self {
        let mut row = row.into_iter();
        let mut next = || row.next().unwrap_or(0.0);
        Self {
            direct: std::array::from_fn(|_| next()),
            inner: std::array::from_fn(|_| std::array::from_fn(|_| next())),
            global: std::array::from_fn(|_| std::array::from_fn(|_| next())),
            bias: std::array::from_fn(|_| next()),
            out: std::array::from_fn(|_| next()),
        }
    }
}

/// How likely each root is, adding up to 1.
pub fn odds(signs: &Signs, weights: &Weights) -> [f32; 12] {
    let mut base = weights.bias;
    for (value, row) in signs.globals.iter().zip(&weights.global) {
        add(&mut base, *value, row);
    }
    let mut hidden = [base; 12];
    let mut direct = [0.0; 12];
    let blocks = signs.classes.iter().chain(&signs.steps).enumerate();
    for (block, values) in blocks {
        for (class, &value) in values.iter().enumerate().filter(|(_, value)| **value != 0.0) {
            for root in 0..12 {
                // Classes are seen from the root upward, roots from the point.
                let seen = if block < CLASSES { class + 12 - root } else { root + 12 - class };
                let input = block * 12 + seen % 12;
                direct[root] += value * weights.direct[input];
                add(&mut hidden[root], value, &weights.inner[input]);
            }
        }
    }
    for (root, values) in signs.scalars.iter().enumerate() {
        for (scalar, &value) in values.iter().enumerate().filter(|(_, value)| **value != 0.0) {
            let input = 12 * (CLASSES + STEPS) + scalar;
            direct[root] += value * weights.direct[input];
            add(&mut hidden[root], value, &weights.inner[input]);
        }
    }
    let mut scores: [f32; 12] = std::array::from_fn(|root| {
        direct[root]
            + hidden[root].iter().zip(&weights.out).map(|(h, w)| h.max(0.0) * w).sum::<f32>()
    });
    let most = scores.iter().copied().fold(f32::NEG_INFINITY, f32::max);
    scores.iter_mut().for_each(|score| *score = (*score - most).exp());
    let sum: f32 = scores.iter().sum();
    scores.map(|score| score / sum)
}

fn add(sums: &mut [f32; HIDDEN], value: f32, row: &[f32; HIDDEN]) {
    for (sum, weight) in sums.iter_mut().zip(row) {
        *sum += value * weight;
    }
}
