//! The scorer: how likely each of the twelve roots is, from signs.
//!
//! One small network shared by all candidates (a hidden layer of
//! [`HIDDEN`] rectified sums), softmax over the twelve. The ear has two: one
//! for the moment (`weights.rs`), one for what is past (`hindsight_weights.rs`);
//! both learned by `tools/hear/train_ear.py`.

use arrayvec::ArrayVec;
use wide::f32x8;

/// Sums of the hidden layer.
pub const HIDDEN: usize = 32;

/// What a scorer has learned. An input is a value that a candidate is seen by:
/// twelve of each class, twelve of each step, one of each scalar.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Weights {
    /// What each input speaks for a candidate, in nats.
    pub direct: &'static [f32],
    /// From the inputs to the hidden layer.
    pub inner: &'static [[f32; HIDDEN]],
    /// From what is the same for all candidates to the hidden layer.
    pub global: &'static [[f32; HIDDEN]],
    /// Added to the hidden layer.
    pub bias: [f32; HIDDEN],
    /// From the hidden layer to nats.
    pub out: [f32; HIDDEN],
}

impl Weights {
    /// From all of them in a row, in the order of the fields; for training.
    /// Missing ones are zero. Allocates, and never frees.
    pub fn from_row(inputs: usize, globals: usize, row: impl IntoIterator<Item = f32>) -> Self {
        let mut row = row.into_iter();
        let mut next = || row.next().unwrap_or(0.0);
        let direct: Vec<f32> = (0..inputs).map(|_| next()).collect();
        let mut rows = |count: usize| -> &'static [[f32; HIDDEN]] {
            (0..count).map(|_| std::array::from_fn(|_| next())).collect::<Vec<_>>().leak()
        };
        let (inner, global) = (rows(inputs), rows(globals));
        Self {
            direct: direct.leak(),
            inner,
            global,
            bias: std::array::from_fn(|_| next()),
            out: std::array::from_fn(|_| next()),
        }
    }
}

/// What a scorer looks at, in the order of its weights.
#[derive(Clone, Copy, Debug)]
pub struct View<'a> {
    /// Values of the twelve pitch classes, seen from the candidate upward.
    pub classes: &'a [[f32; 12]],
    /// Values of twelve points, from which the candidate is seen upward.
    pub steps: &'a [[f32; 12]],
    /// A value a candidate.
    pub scalars: &'a [[f32; 12]],
    /// The same for all candidates.
    pub globals: &'a [f32],
}

impl View<'_> {
    /// How likely each root is, adding up to 1.
    pub fn odds(self, weights: &Weights) -> [f32; 12] {
        let mut base = Sums::of(&weights.bias);
        for (&value, row) in self.globals.iter().zip(weights.global) {
            if value != 0.0 {
                base.add(value, row);
            }
        }
        // What is not 0, with the first of its twelve rows.
        let mut values: ArrayVec<Value, { 12 * MOST }> = ArrayVec::new();
        let seen_from_root = self.classes.iter().map(|block| (block, true));
        let seen_from_point = self.steps.iter().map(|block| (block, false));
        for (n, (block, upward)) in seen_from_root.chain(seen_from_point).enumerate() {
            for (class, &value) in block.iter().enumerate().filter(|(_, value)| **value != 0.0) {
                let _ = values.try_push(Value { value, class, first: 12 * n, upward });
            }
        }
        let from = 12 * (self.classes.len() + self.steps.len());
        let mut scores = [0.0; 12];
        // A candidate at a time, so that its sums stay in registers.
        for (root, score) in scores.iter_mut().enumerate() {
            let (mut hidden, mut direct) = (base, 0.0);
            for value in &values {
                let input = value.first + value.seen_by(root);
                if let (Some(nats), Some(row)) =
                    (weights.direct.get(input), weights.inner.get(input))
                {
                    direct += value.value * nats;
                    hidden.add(value.value, row);
                }
            }
            let inputs = weights.direct.iter().zip(weights.inner).skip(from);
            for (values, (nats, row)) in self.scalars.iter().zip(inputs) {
                direct += values[root] * nats;
                hidden.add(values[root], row);
            }
            *score = direct + hidden.out(&weights.out);
        }
        to_odds(&mut scores);
        scores
    }
}

/// The most blocks of twelve values.
const MOST: usize = 64;

/// A value that is not 0, and where its weights are.
#[derive(Clone, Copy)]
struct Value {
    value: f32,
    /// The pitch class or point that it is of.
    class: usize,
    /// The first of its block's inputs.
    first: usize,
    /// Whether its place is counted from the candidate upward.
    upward: bool,
}

impl Value {
    /// Semitones between it and the candidate.
    fn seen_by(&self, root: usize) -> usize {
        let seen = if self.upward { self.class + 12 - root } else { root + 12 - self.class };
        if seen >= 12 { seen - 12 } else { seen }
    }
}

/// Scores in nats become odds that add up to 1.
pub fn to_odds<const N: usize>(scores: &mut [f32; N]) {
    let most = scores.iter().copied().fold(f32::NEG_INFINITY, f32::max);
    scores.iter_mut().for_each(|score| *score = (*score - most).exp());
    let sum: f32 = scores.iter().sum();
    scores.iter_mut().for_each(|score| *score /= sum);
}

/// The sums of the hidden layer, eight side by side.
#[derive(Clone, Copy)]
struct Sums([f32x8; HIDDEN / 8]);

impl Sums {
    fn of(values: &[f32; HIDDEN]) -> Self {
        let (lanes, _) = values.as_chunks::<8>();
        Self(std::array::from_fn(|n| lanes.get(n).map_or(f32x8::ZERO, |lane| f32x8::from(*lane))))
    }

    #[inline(always)]
    fn add(&mut self, value: f32, row: &[f32; HIDDEN]) {
        let value = f32x8::splat(value);
        for (sum, lane) in self.0.iter_mut().zip(row.as_chunks::<8>().0) {
            *sum += value * f32x8::from(*lane);
        }
    }

    /// What the sums above 0 come to.
    fn out(&self, weights: &[f32; HIDDEN]) -> f32 {
        let sums = self.0.iter().zip(weights.as_chunks::<8>().0);
        sums.map(|(sum, lane)| (sum.max(f32x8::ZERO) * f32x8::from(*lane)).reduce_add()).sum()
    }
}
