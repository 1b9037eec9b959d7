//! How like earlier places of the song are to what is played now: a song says
//! things twice, and the second time round it is known how they go on.

use arrayvec::ArrayVec;

use super::past::{KEPT, Past};
use crate::maths;

/// Distances that are looked at: multiples of the half bar.
pub const LAGS: usize = 128;

/// Likeness this many frames ago counts half.
const HALF_LIFE: f32 = 24.0;

/// Strokes alike by this much (common classes of all) are so by chance.
const CHANCE: f32 = 0.35;

/// A likeness of this many strokes is as likely as that nothing is repeated.
const NEW: f32 = 2.0;

/// Places that are as like as this many nats below the likest are looked at.
const NEAR: f32 = 3.0;

/// An earlier place, and how much of the present is a repeat of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Like {
    /// Frames ago.
    pub lag: i64,
    /// 0..=1; with the others it adds up to less than 1.
    pub weight: f32,
}

/// The likest places.
type Likes = ArrayVec<Like, 8>;

/// Keeps count. Fixed size; real-time safe.
#[derive(Clone, Debug)]
pub struct Likeness {
    sums: [f32; LAGS],
    /// Frames between the distances.
    step: i64,
    likes: Likes,
    /// The frame for which they were found, and the strokes in it; until it ends.
    found: Option<(i64, u16)>,
}

impl Likeness {
    /// Nothing was played.
    pub fn new() -> Self {
        Self { sums: [0.0; LAGS], step: 8, likes: Likes::new(), found: None }
    }

    /// Nothing that was played is like what comes.
    pub fn forget(&mut self) {
        self.sums = [0.0; LAGS];
        self.found = None;
    }

    /// Bars have this many frames now.
    pub fn set_bar(&mut self, frames: i64) {
        let step = if frames % 16 == 0 { 8 } else { frames.clamp(6, 32) };
        if step != self.step {
            self.step = step;
            self.forget();
        }
    }

    /// The frame has ended.
    pub fn frame(&mut self, past: &Past, frame: i64) {
        self.found = None;
        let fade = maths::exp2(-1.0 / HALF_LIFE);
        let speaks = alike(past.struck(frame), past.struck_before(frame, self.step));
        let known = past.steps_known(frame, self.step);
        for (n, (sum, speaks)) in self.sums.iter_mut().zip(speaks).enumerate() {
            *sum = if n < known { *sum * fade + speaks } else { 0.0 };
        }
    }

    /// The places that the present frame was last found to be likest to.
    pub fn likes(&self) -> &[Like] {
        &self.likes
    }

    /// Looks which they are.
    pub fn look(&mut self, past: &Past) {
        let now = past.now();
        let struck = past.struck(now);
        if self.found.replace((now, struck)) == Some((now, struck)) {
            return;
        }
        let known = past.steps_known(now, self.step).min((KEPT - 64) / maths::count(self.step));
        let mut scores = self.sums;
        if struck != 0 {
            let speaks = alike(struck, past.struck_before(now, self.step));
            scores.iter_mut().zip(speaks).for_each(|(score, speaks)| *score += speaks);
        }
        let scores = scores.get(..known).unwrap_or(&scores);
        let most = scores.iter().copied().fold(NEW, f32::max);
        let likes = &mut self.likes;
        likes.clear();
        let mut all = maths::exp(NEW - most);
        for (n, &score) in (1..).zip(scores) {
            if score < most - NEAR {
                continue;
            }
            let like = Like { lag: n * self.step, weight: maths::exp(score - most) };
            all += like.weight;
            if !likes.is_full() {
                likes.push(like);
            } else if let Some(least) =
                likes.iter_mut().min_by(|a, b| a.weight.total_cmp(&b.weight))
                && least.weight < like.weight
            {
                *least = like;
            }
        }
        likes.iter_mut().for_each(|like| like.weight /= all);
    }
}

/// What a frame's strokes and each earlier one's speak for a repeat. In three
/// loops without a branch, so that many are done at once.
#[allow(clippy::cast_possible_truncation, reason = "of sixteen bits there are sixteen")]
fn alike(now: u16, earlier: [u16; LAGS]) -> [f32; LAGS] {
    let common = earlier.map(|earlier| (now & earlier).count_ones() as u16);
    let all = earlier.map(|earlier| (now | earlier).count_ones() as u16);
    let mut speaks = [0.0; LAGS];
    for (speaks, (common, all)) in speaks.iter_mut().zip(common.into_iter().zip(all)) {
        let share = f32::from(common) / f32::from(all.max(1)) - CHANCE;
        *speaks = if all == 0 { 0.0 } else { share };
    }
    speaks
}
