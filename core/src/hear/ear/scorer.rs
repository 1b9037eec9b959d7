//! The scorer: how likely each of the twelve roots is, from signs.
//!
//! One small network shared by all candidates (a hidden layer of
//! [`HIDDEN`] rectified sums), softmax over the twelve. The ear has two: one
//! for the moment (`weights.rs`), one for what is past (`hindsight_weights.rs`);
//! both learned by `tools/hear/train_ear.py`.

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
        let mut base = weights.bias;
        for (&value, row) in self.globals.iter().zip(weights.global) {
            if value != 0.0 {
                add(&mut base, value, row);
            }
        }
        let mut hidden = [base; 12];
        let mut direct = [0.0; 12];
        let seen_from_root = self.classes.iter().map(|block| (block, true));
        let seen_from_point = self.steps.iter().map(|block| (block, false));
        let inputs = weights.direct.chunks_exact(12).zip(weights.inner.chunks_exact(12));
        for ((block, upward), (nats, rows)) in seen_from_root.chain(seen_from_point).zip(inputs) {
            for (class, &value) in block.iter().enumerate().filter(|(_, value)| **value != 0.0) {
                for root in 0..12 {
                    let seen = if upward { class + 12 - root } else { root + 12 - class } % 12;
                    direct[root] += value * nats[seen];
                    add(&mut hidden[root], value, &rows[seen]);
                }
            }
        }
        let from = 12 * (self.classes.len() + self.steps.len());
        let inputs = weights.direct.iter().zip(weights.inner).skip(from);
        for (values, (nats, row)) in self.scalars.iter().zip(inputs) {
            for (root, &value) in values.iter().enumerate() {
                direct[root] += value * nats;
                add(&mut hidden[root], value, row);
            }
        }
        let mut scores: [f32; 12] = std::array::from_fn(|root| {
            let hidden = hidden[root].iter().zip(&weights.out);
            direct[root] + hidden.map(|(h, w)| h.max(0.0) * w).sum::<f32>()
        });
        to_odds(&mut scores);
        scores
    }
}

/// Scores in nats become odds that add up to 1.
pub fn to_odds<const N: usize>(scores: &mut [f32; N]) {
    let most = scores.iter().copied().fold(f32::NEG_INFINITY, f32::max);
    scores.iter_mut().for_each(|score| *score = (*score - most).exp());
    let sum: f32 = scores.iter().sum();
    scores.iter_mut().for_each(|score| *score /= sum);
}

fn add(sums: &mut [f32; HIDDEN], value: f32, row: &[f32; HIDDEN]) {
    for (sum, weight) in sums.iter_mut().zip(row) {
        *sum += value * weight;
    }
}
