//! The scorer: how likely each of the twelve roots is, from signs.
//!
//! One small network shared by all candidates (a hidden layer of
//! [`HIDDEN`] rectified sums), softmax over the twelve. The ear has two: one
//! for the moment (`weights.rs`), one for what is past (`hindsight_weights.rs`);
//! both learned by `tools/hear/train_ear.py`.

use arrayvec::ArrayVec;
use wide::f32x8;

use super::circle::{self, PARTS};

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

/// Weights made ready to score by. Real-time safe once made.
#[derive(Debug)]
pub struct Scorer {
    /// Of classes and steps, by the waves of each: a part after the other.
    around: [Box<[Row]>; PARTS],
    scalars: Box<[Row]>,
    global: Box<[Sums]>,
    bias: Sums,
    out: Sums,
}

impl Scorer {
    /// With blocks of classes and of steps as many as a view has. Allocates.
    pub fn new(weights: &Weights, classes: usize, steps: usize) -> Self {
        debug_assert!(classes + steps <= MOST, "more blocks than are provided for");
        let input = |n: usize| Row {
            direct: weights.direct.get(n).copied().unwrap_or(0.0),
            inner: weights.inner.get(n).map_or(Sums::ZERO, Sums::of),
        };
        let parts = (0..classes + steps).map(|block| {
            // A class that is seen n semitones above the candidate lies n places
            // above it on the circle; a candidate that is seen n above a point, n below.
            let seen = |n: usize| if block < classes { (12 - n) % 12 } else { n };
            let rows: [Row; 12] = std::array::from_fn(|n| input(12 * block + seen(n)));
            let part = |of: &dyn Fn(&Row) -> f32| {
                circle::weights(std::array::from_fn(|n| f64::from(of(&rows[n]))))
            };
            let direct = part(&|row| row.direct);
            let inner: [[f32; PARTS]; HIDDEN] =
                std::array::from_fn(|unit| part(&|row| row.inner.to_array()[unit]));
            std::array::from_fn::<Row, PARTS, _>(|n| Row {
                direct: direct[n],
                inner: Sums::of(&inner.map(|parts| parts[n])),
            })
        });
        let parts: Vec<[Row; PARTS]> = parts.collect();
        Self {
            around: std::array::from_fn(|n| parts.iter().map(|parts| parts[n]).collect()),
            scalars: (12 * (classes + steps)..weights.direct.len()).map(input).collect(),
            global: weights.global.iter().map(Sums::of).collect(),
            bias: Sums::of(&weights.bias),
            out: Sums::of(&weights.out),
        }
    }

    /// How likely each root is, adding up to 1.
    pub fn odds(&self, view: View<'_>) -> [f32; 12] {
        let (mut hidden, direct) = self.around(view);
        // What is the same for all is the constant's.
        hidden[0].add(1.0, &self.bias);
        for (&value, row) in view.globals.iter().zip(&self.global) {
            if value != 0.0 {
                hidden[0].add(value, row);
            }
        }
        let mut scores = circle::sums(direct);
        let mut bent = [f32x8::ZERO; 12];
        for lane in 0..HIDDEN / 8 {
            let mut sums = circle::sums(hidden.each_ref().map(|part| part.0[lane]));
            for (values, row) in view.scalars.iter().zip(&self.scalars) {
                for (sum, &value) in sums.iter_mut().zip(values) {
                    *sum += row.inner.0[lane] * f32x8::splat(value);
                }
            }
            for (bent, sum) in bent.iter_mut().zip(sums) {
                *bent += sum.fast_max(f32x8::ZERO) * self.out.0[lane];
            }
        }
        for (values, row) in view.scalars.iter().zip(&self.scalars) {
            scores.iter_mut().zip(values).for_each(|(score, value)| *score += value * row.direct);
        }
        scores.iter_mut().zip(bent).for_each(|(score, bent)| *score += bent.reduce_add());
        to_odds(&mut scores);
        scores
    }

    /// What classes and steps give the hidden layer and the scores, in parts.
    fn around(&self, view: View<'_>) -> ([Sums; PARTS], [f32; PARTS]) {
        // Blocks that hold anything.
        let mut blocks: ArrayVec<(usize, &[f32; 12]), MOST> = ArrayVec::new();
        for block in view.classes.iter().chain(view.steps).enumerate() {
            if block.1.iter().any(|&value| value != 0.0) {
                let _ = blocks.try_push(block);
            }
        }
        let mut factors = [[f32x8::ZERO; MOST / 8]; PARTS];
        for (n, blocks) in blocks.chunks(8).enumerate() {
            let side_by_side = std::array::from_fn(|class| {
                let values = std::array::from_fn(|n| blocks.get(n).map_or(0.0, |b| b.1[class]));
                f32x8::from(values)
            });
            for (factors, part) in factors.iter_mut().zip(circle::factors(side_by_side)) {
                factors[n] = part;
            }
        }
        let mut hidden = [Sums::ZERO; PARTS];
        let mut direct = [0.0; PARTS];
        for (n, rows) in self.around.iter().enumerate() {
            let (mut sums, mut sum) = (Sums::ZERO, 0.0);
            for (&(block, _), value) in
                blocks.iter().zip(factors[n].iter().flat_map(|f| f.to_array()))
            {
                if let Some(row) = rows.get(block) {
                    sums.add(value, &row.inner);
                    sum += value * row.direct;
                }
            }
            (hidden[n], direct[n]) = (sums, sum);
        }
        (hidden, direct)
    }
}

/// The most blocks of twelve values.
const MOST: usize = 32;

/// Scores in nats become odds that add up to 1.
pub fn to_odds<const N: usize>(scores: &mut [f32; N]) {
    let most = scores.iter().copied().fold(f32::NEG_INFINITY, f32::max);
    scores.iter_mut().for_each(|score| *score = (*score - most).exp());
    let sum: f32 = scores.iter().sum();
    scores.iter_mut().for_each(|score| *score /= sum);
}

/// What a value gives the score and the hidden layer.
#[derive(Clone, Copy, Debug)]
struct Row {
    inner: Sums,
    direct: f32,
}

/// The sums of the hidden layer, eight side by side.
#[derive(Clone, Copy, Debug)]
struct Sums([f32x8; HIDDEN / 8]);

impl Sums {
    const ZERO: Self = Self([f32x8::ZERO; HIDDEN / 8]);

    fn of(values: &[f32; HIDDEN]) -> Self {
        let (lanes, _) = values.as_chunks::<8>();
        Self(std::array::from_fn(|n| lanes.get(n).map_or(f32x8::ZERO, |lane| f32x8::from(*lane))))
    }

    fn to_array(self) -> [f32; HIDDEN] {
        std::array::from_fn(|n| self.0[n / 8].to_array()[n % 8])
    }

    #[inline(always)]
    fn add(&mut self, value: f32, row: &Self) {
        let value = f32x8::splat(value);
        for (sum, lane) in self.0.iter_mut().zip(row.0) {
            *sum += value * lane;
        }
    }
}
