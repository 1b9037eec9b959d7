//! Where in the bar this song's chords change, by what has been played.
//!
//! A host's bars need not be the song's: a take that begins in the midst of a
//! bar, a click that was set a beat late. Bars of four quarter notes are felt
//! in sixteen places; each gathers what tells a change of chord. Weights:
//! `weights.rs`, learned by `tools/hear/train_felt.py`.

#![allow(clippy::indexing_slicing, reason = "a place lies in the bar")]

use super::past::{Ended, FRAME, Past};
use crate::maths;
use crate::time::{Place, Ticks};

/// Places in a bar.
pub const PLACES: usize = 16;

/// What is gathered for each place: how much the sound changes here, over two
/// beats and over one; keys struck; how long they sound; how low they are.
pub const TELLS: usize = 5;

/// What was gathered this many quarter notes ago counts half.
const HALF_LIFE_BEATS: f32 = 64.0;

/// Frames after which the song is well known.
const KNOWN: f32 = 512.0;

/// What the feeling of the bar has learned: how much each sign, so many
/// sixteenths after a place, speaks for a bar that begins there, in nats.
#[derive(Clone, Debug, PartialEq)]
pub struct FeltWeights {
    /// For the place in the host's bar itself.
    pub bias: [f32; PLACES],
    /// From the start of the song on.
    pub early: [[f32; PLACES]; TELLS],
    /// More, when the song is well known.
    pub known: [[f32; PLACES]; TELLS],
}

impl FeltWeights {
    /// From all of them in a row; for training. Missing ones are zero.
    #[cfg(feature = "training")]
    pub fn from_row(row: &[f32]) -> Self {
        let mut row = row.iter().copied();
        let mut next = || row.next().unwrap_or(0.0);
        Self {
            bias: core::array::from_fn(|_| next()),
            early: core::array::from_fn(|_| core::array::from_fn(|_| next())),
            known: core::array::from_fn(|_| core::array::from_fn(|_| next())),
        }
    }
}

/// Gathers and judges. Fixed size; real-time safe.
#[derive(Clone, Debug)]
pub struct Felt {
    told: [[f32; PLACES]; TELLS],
    /// Frames gathered.
    frames: f32,
    /// How likely each place of the bar, in sixteenths, is where the song's
    /// own bars begin.
    odds: [f32; PLACES],
    /// The likeliest place, by half bars and by bars.
    half: i64,
    bar: i64,
    weights: &'static FeltWeights,
}

impl Felt {
    /// Nothing gathered: the bar line is where bars begin.
    pub fn new(weights: &'static FeltWeights) -> Self {
        let mut odds = [0.0; PLACES];
        odds[0] = 1.0;
        Self { told: [[0.0; PLACES]; TELLS], frames: 0.0, odds, half: 0, bar: 0, weights }
    }

    /// A note of this length that was struck at `on` has ended.
    pub fn note(&mut self, on: Ticks, length: Ticks, place: Place) {
        if four(place) {
            let at = place_in_bar(on, place);
            self.told[3][at] += maths::single(length.beats().clamp(0.0, 4.0)) / 2.0;
        }
    }

    /// A frame has ended in the bar of `place`.
    pub fn frame(&mut self, ended: Ended, past: &Past, place: Place) {
        if !four(place) {
            return;
        }
        let fade = maths::exp2(-1.0 / (HALF_LIFE_BEATS * 4.0));
        self.told.iter_mut().flatten().for_each(|t| *t *= fade);
        self.frames += 1.0;
        let at = place_in_bar(ended.start + Ticks(FRAME / 2), place);
        for (tell, span) in [(0, 8), (1, 4)] {
            let middle = ended.frame + 1 - span;
            let before = past.heard(middle - span, middle);
            let after = past.heard(middle, middle + span);
            let of = (at + PLACES + 1 - maths::count(span)) % PLACES;
            self.told[tell][of] += newness(&before, &after);
        }
        self.told[2][at] += f32::from(ended.keys.min(4)) / 2.0;
        if ended.keys > 0 {
            self.told[4][at] += f32::from(84u8.saturating_sub(ended.low).min(24)) / 24.0;
        }
        if ended.frame % 4 == 0 {
            self.judge();
        }
    }

    /// What the judgement looks at.
    pub fn told(&self) -> ([[f32; PLACES]; TELLS], f32) {
        (self.shares(), (self.frames / KNOWN).min(1.0))
    }

    fn shares(&self) -> [[f32; PLACES]; TELLS] {
        self.told.map(|tell| {
            let sum = tell.iter().sum::<f32>() + 0.25;
            tell.map(|t| t / sum * 8.0)
        })
    }

    fn judge(&mut self) {
        let (told, known) = self.told();
        let FeltWeights { bias, early, known: later } = self.weights;
        let mut scores = *bias;
        for (tell, (early, later)) in told.iter().zip(early.iter().zip(later)) {
            // Twice round, so that what all places have so much later lies in a row.
            let twice: [f32; 2 * PLACES] = core::array::from_fn(|n| tell[n % PLACES]);
            for (n, (early, later)) in early.iter().zip(later).enumerate() {
                let tells = twice.get(n..).and_then(|row| row.first_chunk::<PLACES>());
                let tells = tells.unwrap_or(&[0.0; PLACES]);
                let weight = early + known * later;
                scores.iter_mut().zip(tells).for_each(|(score, tell)| *score += tell * weight);
            }
        }
        super::scorer::to_odds(&mut scores);
        self.odds = scores;
        let halves = core::array::from_fn::<f32, 8, _>(|i| scores[i] + scores[i + 8]);
        let best = |odds: &[f32]| {
            let best = odds.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1));
            best.map_or(0, |(i, _)| i as i64)
        };
        self.half = best(&halves);
        self.bar = best(&scores);
    }

    /// The song was another one.
    pub fn forget(&mut self) {
        *self = Self::new(self.weights);
    }

    /// Where in the song's bars the moment is, felt as well as may be.
    pub fn at(&self, now: Ticks, place: Place) -> FeltPosition {
        let mut odds = [0.0; PLACES];
        if four(place) {
            let at = place_in_bar(now, place);
            for (i, odd) in odds.iter_mut().enumerate() {
                *odd = self.odds[(at + PLACES - i) % PLACES];
            }
            let from = |begin: i64, length: i64| (at as i64 - begin).rem_euclid(length);
            return FeltPosition {
                odds,
                from_half: from(self.half, 8),
                from_bar: from(self.bar, 16),
                bar: 16,
            };
        }
        // Other bars are believed; their beats stand for those of a bar of four.
        let place = place.of(now + Ticks(super::past::EARLY));
        let into = place.offset(now + Ticks(super::past::EARLY)).0.max(0);
        let pulse = place.metre.pulse().0.max(FRAME);
        let bar = place.metre.bar().0.max(FRAME);
        let beats = bar / pulse;
        let half = if beats % 2 == 0 && beats >= 4 { pulse * (beats / 2) } else { bar };
        let as_four = match () {
            () if into < FRAME => 0,
            () if into % half < FRAME => 8,
            () if into % pulse < FRAME => 4,
            () if (into % pulse - pulse / 2).abs() < FRAME / 2 => 2,
            () => 1,
        };
        odds[as_four] = 1.0;
        FeltPosition {
            odds,
            from_half: into % half / FRAME,
            from_bar: into / FRAME,
            bar: bar / FRAME,
        }
    }
}

/// Where a moment lies in the song's own bars.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FeltPosition {
    /// How likely the moment is each sixteenth of the bar.
    pub odds: [f32; PLACES],
    /// Frames since the half bar (of four quarter notes; else the bar or what
    /// halves it) began.
    pub from_half: i64,
    /// Frames since the bar began.
    pub from_bar: i64,
    /// Frames of a bar.
    pub bar: i64,
}

impl FeltPosition {
    /// What is to be expected here of something that depends on the place in
    /// the bar: at the bar line, the half bar, another beat, half a beat, elsewhere.
    pub fn mean(&self, of: [f32; 5]) -> f32 {
        let rank = |place: usize| match place {
            0 => 0,
            8 => 1,
            4 | 12 => 2,
            place if place % 2 == 0 => 3,
            _ => 4,
        };
        self.odds.iter().enumerate().map(|(place, odds)| odds * of[rank(place)]).sum()
    }
}

/// Bars of four quarter notes are felt in sixteen places.
fn four(place: Place) -> bool {
    place.metre.bar().0 == 16 * FRAME && !place.metre.is_compound()
}

fn place_in_bar(at: Ticks, place: Place) -> usize {
    let from_bar = (at + Ticks(super::past::EARLY) - place.bar).0.div_euclid(FRAME);
    maths::ring(from_bar, PLACES)
}

/// How unlike two sounds are, 0..=1; 0 if there is only one.
fn newness(a: &[f32; 12], b: &[f32; 12]) -> f32 {
    let dot = |a: &[f32; 12], b: &[f32; 12]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f32>();
    let norm = libm::sqrtf(dot(a, a) * dot(b, b));
    if norm > 1e-6 { (1.0 - dot(a, b) / norm).max(0.0) } else { 0.0 }
}
