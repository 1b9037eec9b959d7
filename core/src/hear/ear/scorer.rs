//! The scorer: how likely each of the twelve classes is the root of the chord,
//! and how likely a tone of it, from signs.
//!
//! One small network shared by all candidates (a hidden layer of
//! [`HIDDEN`] rectified sums); one of the twelve is the root, several are tones. The ear has two: one
//! for the moment, one for what is past (`weights.rs`);
//! both learned by `tools/hear/train_ear.py`.

#![allow(clippy::indexing_slicing, reason = "lanes of arrays whose sizes the types say")]

use alloc::boxed::Box;
use alloc::vec::Vec;

use arrayvec::ArrayVec;
use wide::{f32x4, i16x8, i32x4, i32x8};

use super::circle::{self, PARTS};
use super::{hindsight, signs};

/// Sums of the hidden layer.
pub const HIDDEN: usize = 64;

/// What a scorer has learned. An input is a value that a candidate is seen by:
/// twelve of each class, twelve of each step, one of each scalar.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ScorerWeights {
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
    /// The same two for being a tone of the chord, and what is added to it; a
    /// scorer of roots alone has none.
    pub tone_direct: &'static [f32],
    pub tone_out: [f32; HIDDEN],
    pub tone_bias: f32,
}

impl ScorerWeights {
    /// From all of them in a row, in the order of the fields; for training.
    /// Missing ones are zero. Allocates, and never frees.
    #[cfg(feature = "training")]
    pub fn from_row(inputs: usize, globals: usize, row: &[f32]) -> Self {
        let mut row = row.iter().copied();
        let mut next = || row.next().unwrap_or(0.0);
        let direct: Vec<f32> = (0..inputs).map(|_| next()).collect();
        let mut rows = |count: usize| -> &'static [[f32; HIDDEN]] {
            (0..count).map(|_| core::array::from_fn(|_| next())).collect::<Vec<_>>().leak()
        };
        let (inner, global) = (rows(inputs), rows(globals));
        Self {
            direct: direct.leak(),
            inner,
            global,
            bias: core::array::from_fn(|_| next()),
            out: core::array::from_fn(|_| next()),
            tone_direct: (0..inputs).map(|_| next()).collect::<Vec<_>>().leak(),
            tone_out: core::array::from_fn(|_| next()),
            tone_bias: next(),
        }
    }
}

/// What a scorer looks at, in the order of its weights.
#[derive(Clone, Copy, Debug)]
pub struct ScorerInput<'a> {
    /// Values of the twelve pitch classes, seen from the candidate upward.
    pub classes: &'a [[f32; 12]],
    /// Values of twelve points, from which the candidate is seen upward.
    pub steps: &'a [[f32; 12]],
    /// A value a candidate.
    pub scalars: &'a [[f32; 12]],
    /// The same for all candidates.
    pub globals: &'a [f32],
}

/// What a scorer looks at, so many of each kind. Classes are absolute here (C = 0).
#[derive(Clone, Debug, PartialEq)]
pub struct Signs<const CLASSES: usize, const STEPS: usize, const SCALARS: usize, const ALL: usize> {
    /// Of the twelve pitch classes.
    pub classes: [[f32; 12]; CLASSES],
    /// Indexed by the point that the candidate is seen from.
    pub steps: [[f32; 12]; STEPS],
    /// Indexed by candidate.
    pub scalars: [[f32; 12]; SCALARS],
    /// The same for all candidates.
    pub globals: [f32; ALL],
}

impl<const C: usize, const S: usize, const N: usize, const A: usize> Signs<C, S, N, A> {
    /// As the scorer looks at them.
    pub(super) fn view(&self) -> ScorerInput<'_> {
        let Self { classes, steps, scalars, globals } = self;
        ScorerInput { classes, steps, scalars, globals }
    }
}

/// ScorerWeights made ready to score by: whole numbers of sixteen bits, of which any
/// processor multiplies and adds eight at once. Real-time safe once made.
#[derive(Debug)]
pub struct Scorer {
    /// Of classes and steps to the hidden layer, by their waves: a part after
    /// the other, in each all blocks, two by two.
    around: [PairRows; PARTS],
    /// Of scalars to the hidden layer, two by two.
    scalars: PairRows,
    global: Box<[Sums]>,
    bias: Sums,
    root: ScorerHead,
    tone: ScorerHead,
    tone_bias: f32,
}

/// One of the two things that a class is judged to be.
#[derive(Debug)]
struct ScorerHead {
    /// Of classes and steps to nats, four blocks side by side.
    direct: [Box<[f32x4]>; PARTS],
    scalars: Box<[f32]>,
    out: Sums,
}

/// What a scorer says of the twelve classes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ScorerOdds {
    /// How likely each is the root; they add up to 1.
    pub roots: [f32; 12],
    /// How likely each is a tone of the chord.
    pub tones: [f32; 12],
}

impl Scorer {
    /// With blocks of classes and of steps as many as a view has. Allocates.
    pub fn new(weights: &ScorerWeights, classes: usize, steps: usize) -> Self {
        let blocks = classes + steps;
        debug_assert!(blocks <= MOST, "more blocks than are provided for");
        let inner = |n: usize| weights.inner.get(n).copied().unwrap_or([0.0; HIDDEN]);
        let parts = |block: usize, weight: &dyn Fn(usize) -> f32| {
            // A class that is seen n semitones above the candidate lies n places
            // above it on the circle; a candidate that is seen n above a point, n below.
            let seen = |n: usize| if block < classes { (12 - n) % 12 } else { n };
            let weight = |n| if block < blocks { weight(12 * block + seen(n)) } else { 0.0 };
            circle::weights(core::array::from_fn(|n| f64::from(weight(n))))
        };
        let fours = 0..blocks.div_ceil(4);
        let each = 0..4 * fours.len();
        let around = each.map(|block| {
            core::array::from_fn::<_, HIDDEN, _>(|unit| parts(block, &|n| inner(n)[unit]))
        });
        let around: Vec<[[f32; PARTS]; HIDDEN]> = around.collect();
        let around = |part: usize| {
            let row = |units: &[[f32; PARTS]; HIDDEN]| units.map(|unit| unit[part]);
            let pairs = around.as_chunks::<2>().0.iter();
            pair_rows(pairs.map(|[a, b]| [row(a), row(b)]))
        };
        let answer = |direct: &[f32], out: &[f32; HIDDEN]| {
            let nats = |n: usize| direct.get(n).copied().unwrap_or(0.0);
            let ahead = |part: usize| {
                let nats = |block: usize| parts(block, &nats)[part];
                let four = |four: usize| core::array::from_fn(|n| nats(4 * four + n));
                fours.clone().map(|n| f32x4::from(four(n))).collect()
            };
            ScorerHead {
                direct: core::array::from_fn(ahead),
                scalars: (12 * blocks..direct.len()).map(nats).collect(),
                out: Sums::of(&out.map(|nats| nats / (VALUE * WEIGHT))),
            }
        };
        let scalars = (12 * blocks..weights.direct.len()).step_by(2);
        let global = |row: &[f32; HIDDEN]| Sums::of(&row.map(|weight| weight * VALUE * WEIGHT));
        Self {
            around: core::array::from_fn(around),
            scalars: pair_rows(scalars.map(|n| [inner(n), inner(n + 1)])),
            global: weights.global.iter().map(global).collect(),
            bias: global(&weights.bias),
            root: answer(weights.direct, &weights.out),
            tone: answer(weights.tone_direct, &weights.tone_out),
            tone_bias: weights.tone_bias,
        }
    }

    /// How likely each class is the root, and a tone.
    pub fn odds(&self, view: ScorerInput<'_>) -> ScorerOdds {
        let factors = factors(view);
        let [roots, tones] = self.bent(&factors, view, [&self.root, &self.tone]);
        let mut roots = self.root.scores(&factors, view, &roots);
        to_odds(&mut roots);
        let tones = self.tone.scores(&factors, view, &tones);
        ScorerOdds { roots, tones: likely(tones.map(|nats| nats + self.tone_bias)) }
    }

    /// How likely each class is the root.
    pub fn roots(&self, view: ScorerInput<'_>) -> [f32; 12] {
        let factors = factors(view);
        let [roots] = self.bent(&factors, view, [&self.root]);
        let mut roots = self.root.scores(&factors, view, &roots);
        to_odds(&mut roots);
        roots
    }

    /// What the hidden layer says of each candidate to some heads, four units side by
    /// side, yet to be added up.
    fn bent<const HEADS: usize>(
        &self,
        factors: &[Four],
        view: ScorerInput<'_>,
        heads: [&ScorerHead; HEADS],
    ) -> [[f32x4; 12]; HEADS] {
        let globals: ArrayVec<(f32x4, &Sums), MOST_GLOBALS> = view
            .globals
            .iter()
            .zip(&self.global)
            .filter(|(value, _)| **value != 0.0)
            .take(MOST_GLOBALS)
            .map(|(value, row)| (f32x4::splat(*value), row))
            .collect();
        let mut pairs = [[0; PAIRS]; PARTS];
        for (part, pairs) in pairs.iter_mut().enumerate() {
            whole_pairs(pairs, factors.iter().map(|four| four[part]));
        }
        let mut own_pairs = [[0; PAIRS]; 12];
        for (candidate, pairs) in own_pairs.iter_mut().enumerate() {
            let value = |scalar: &[f32; 12]| scalar[candidate];
            let fours = view.scalars.chunks(4);
            whole_pairs(pairs, fours.map(|four| f32x4::from(filled(four.iter().map(value)))));
        }
        let mut bent = [[f32x4::ZERO; 12]; HEADS];
        for eight in 0..LANES / EIGHT {
            let around: [[i32x4; EIGHT]; PARTS] =
                core::array::from_fn(|part| sums(&pairs[part], &self.around[part][eight]));
            let own: [[i32x4; EIGHT]; 12] =
                core::array::from_fn(|candidate| sums(&own_pairs[candidate], &self.scalars[eight]));
            for n in 0..EIGHT {
                let lane = EIGHT * eight + n;
                let mut waves = around.each_ref().map(|part| f32x4::from_i32x4(part[n]));
                // What is the same for all is the constant's.
                let bias = self.bias.0[lane];
                waves[0] +=
                    globals.iter().fold(bias, |sum, (value, row)| sum + *value * row.0[lane]);
                let sums = circle::sums(waves);
                for (candidate, sum) in sums.into_iter().enumerate() {
                    let sum = sum + f32x4::from_i32x4(own[candidate][n]);
                    let unit = sum.fast_max(f32x4::ZERO);
                    for (bent, head) in bent.iter_mut().zip(heads) {
                        bent[candidate] += unit * head.out.0[lane];
                    }
                }
            }
        }
        bent
    }
}

/// Eight sums of the hidden layer (as many as stay in registers), each of four units
/// side by side, of values two by two.
#[inline(always)]
fn sums(pairs: &[i32; PAIRS], rows: &[PairRow]) -> [i32x4; EIGHT] {
    let mut sums = [i32x4::ZERO; EIGHT];
    let (pairs, rows) = (pairs.as_chunks::<2>().0, rows.as_chunks::<2>().0);
    // Two at once: what is done beside the sums weighs half.
    for ([a, b], [of_a, of_b]) in pairs.iter().zip(rows) {
        if a | b == 0 {
            continue; // as many scalars
        }
        let [a, b]: [i16x8; 2] = [a, b].map(|pair| bytemuck::cast(i32x4::splat(*pair)));
        for (sum, (of_a, of_b)) in sums.iter_mut().zip(of_a.iter().zip(of_b)) {
            *sum += a.dot(*of_a) + b.dot(*of_b);
        }
    }
    sums
}

impl ScorerHead {
    fn scores(&self, factors: &[Four], view: ScorerInput<'_>, bent: &[f32x4; 12]) -> [f32; 12] {
        let direct = |part: usize| {
            let products = factors.iter().zip(&self.direct[part]).map(|(f, w)| f[part] * *w);
            products.fold(f32x4::ZERO, |sum, product| sum + product).reduce_add()
        };
        let mut scores = circle::sums(core::array::from_fn(direct));
        for (values, nats) in view.scalars.iter().zip(&self.scalars) {
            scores.iter_mut().zip(values).for_each(|(score, value)| *score += value * nats);
        }
        scores.iter_mut().zip(bent).for_each(|(score, bent)| *score += bent.reduce_add());
        scores
    }
}

/// How likely things are that so many nats speak for.
fn likely(nats: [f32; 12]) -> [f32; 12] {
    let mut against = nats.map(|nats| -nats.abs());
    crate::nats::all_odds(&mut against);
    for (against, nats) in against.iter_mut().zip(nats) {
        let less = *against / (1.0 + *against);
        *against = if nats < 0.0 { less } else { 1.0 - less };
    }
    against
}

/// Four blocks side by side, as factors.
type Four = [f32x4; PARTS];

/// What classes and steps are multiplied by.
fn factors(view: ScorerInput<'_>) -> ArrayVec<Four, { MOST / 4 }> {
    let mut blocks = [&[0.0; 12]; MOST];
    blocks
        .iter_mut()
        .zip(view.classes.iter().chain(view.steps))
        .for_each(|(to, block)| *to = block);
    let (fours, _) = blocks.as_chunks::<4>();
    let many = (view.classes.len() + view.steps.len()).div_ceil(4);
    let mut factors = ArrayVec::new();
    for [a, b, c, d] in fours.iter().take(many) {
        let value = |n: usize| f32x4::from([a[n], b[n], c[n], d[n]]);
        factors.push(circle::factors(core::array::from_fn(value)));
    }
    factors
}

/// Four values; 0 where there are fewer.
#[inline(always)]
fn filled(mut values: impl Iterator<Item = f32>) -> [f32; 4] {
    core::array::from_fn(|_| values.next().unwrap_or(0.0))
}

/// The most blocks of twelve values, two by two.
const PAIRS: usize = MOST / 2;

/// The most blocks of twelve values.
const MOST: usize = 28;

/// The most values that are the same for all candidates.
const MOST_GLOBALS: usize = signs::GLOBALS;
const _: () = assert!(hindsight::GLOBALS <= MOST_GLOBALS);

/// Scores in nats become odds that add up to 1.
pub fn to_odds<const N: usize>(scores: &mut [f32; N]) {
    let most = scores.iter().copied().fold(f32::NEG_INFINITY, f32::max);
    scores.iter_mut().for_each(|score| *score -= most);
    crate::nats::all_odds(scores);
    let sum: f32 = scores.iter().sum();
    scores.iter_mut().for_each(|score| *score /= sum);
}

/// A value times this is a whole number, and so is a weight times that: values
/// lie within 32, to a two-thousandth; weights within 2, to a thirty-thousandth.
const VALUE: f32 = 1024.0;
const WEIGHT: f32 = 16_384.0;

/// Values as whole numbers, two and two: the first in the lower half.
#[inline(always)]
fn whole_pairs(pairs: &mut [i32; PAIRS], fours: impl Iterator<Item = f32x4>) {
    for (pairs, four) in pairs.as_chunks_mut::<2>().0.iter_mut().zip(fours) {
        let whole = (four * f32x4::splat(VALUE)).fast_round_int();
        let eight: i32x8 = bytemuck::cast([whole, i32x4::ZERO]);
        let [a, b, ..]: [i32; 4] = bytemuck::cast(i16x8::from_i32x8_saturate(eight));
        *pairs = [a, b];
    }
}

/// From two values to eight sums: each four units in a row, with both.
type PairRow = [i16x8; EIGHT];

/// A row for each two values: of the first eight sums, of the others.
type PairRows = [Box<[PairRow]>; LANES / EIGHT];

/// An even number of rows, if need be with one of zeros.
fn pair_rows(pairs: impl Iterator<Item = [[f32; HIDDEN]; 2]>) -> PairRows {
    #[allow(clippy::cast_possible_truncation, reason = "what is too large is the largest")]
    let whole = |weight: f32| libm::rintf(weight * WEIGHT) as i16;
    let mut pairs: Vec<[[f32; HIDDEN]; 2]> = pairs.collect();
    pairs.resize(pairs.len().next_multiple_of(2), [[0.0; HIDDEN]; 2]);
    let row = |pair: &[[f32; HIDDEN]; 2], eight: usize| {
        core::array::from_fn(|n| {
            let first = 4 * (EIGHT * eight + n);
            let unit = |unit: usize| pair.map(|row| whole(row[first + unit]));
            let [[a, b], [c, d], [e, f], [g, h]] = core::array::from_fn(unit);
            i16x8::from([a, b, c, d, e, f, g, h])
        })
    };
    core::array::from_fn(|eight| pairs.iter().map(|pair| row(pair, eight)).collect())
}

/// Vectors that are summed at once.
const EIGHT: usize = 8;

/// Vectors that hold the hidden layer.
const LANES: usize = HIDDEN / 4;

/// The sums of the hidden layer, four side by side.
#[derive(Clone, Copy, Debug)]
struct Sums([f32x4; LANES]);

impl Sums {
    fn of(values: &[f32; HIDDEN]) -> Self {
        let (lanes, _) = values.as_chunks::<4>();
        Self(core::array::from_fn(|n| lanes.get(n).map_or(f32x4::ZERO, |lane| f32x4::from(*lane))))
    }
}
