//! How like earlier places of the song are to what is played now: a song says
//! things twice, and the second time round it is known how they go on.

use arrayvec::ArrayVec;
use wide::{f32x4, i32x4, i32x8, u16x8};

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
        let speaks = alike(past.struck(frame), &past.struck_before(frame, self.step));
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
            let speaks = alike(struck, &past.struck_before(now, self.step));
            scores.iter_mut().zip(speaks).for_each(|(score, speaks)| *score += speaks);
        }
        if let Some(unknown) = scores.get_mut(known..) {
            unknown.fill(f32::MIN);
        }
        let fours = scores.as_chunks::<4>().0;
        let most = fours.iter().fold(f32x4::splat(NEW), |most, four| most.fast_max((*four).into()));
        let most = most.to_array().into_iter().fold(NEW, f32::max);
        let likes = &mut self.likes;
        likes.clear();
        let mut all = maths::exp(NEW - most);
        for (n, four) in (0..).step_by(4).zip(fours) {
            if !f32x4::from(*four).simd_ge(f32x4::splat(most - NEAR)).any() {
                continue; // as most of them
            }
            for (n, &score) in (n + 1..).zip(four).filter(|(_, score)| **score >= most - NEAR) {
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
        }
        likes.iter_mut().for_each(|like| like.weight /= all);
    }
}

/// What a frame's strokes and each earlier one's speak for a repeat, eight at once.
fn alike(now: u16, earlier: &[u16; LAGS]) -> [f32; LAGS] {
    let mut speaks = [0.0; LAGS];
    let eights = speaks.as_chunks_mut::<8>().0.iter_mut().zip(earlier.as_chunks::<8>().0);
    for (speaks, earlier) in eights {
        let (now, earlier) = (u16x8::splat(now), u16x8::from(*earlier));
        let fours = |bits| bytemuck::cast::<_, [i32x4; 2]>(i32x8::from_u16x8(bits));
        let both = fours(ones(now & earlier)).into_iter().zip(fours(ones(now | earlier)));
        for (speaks, (common, all)) in speaks.as_chunks_mut::<4>().0.iter_mut().zip(both) {
            let all = f32x4::from_i32x4(all);
            let share = f32x4::from_i32x4(common) / all.fast_max(f32x4::ONE);
            *speaks = ((share - CHANCE) & all.simd_gt(f32x4::ZERO)).to_array();
        }
    }
    speaks
}

/// How many bits are set in each of eight numbers.
#[inline(always)]
fn ones(bits: u16x8) -> u16x8 {
    let twos = bits - (bits >> 1 & u16x8::splat(0x5555));
    let fours = (twos & u16x8::splat(0x3333)) + (twos >> 2 & u16x8::splat(0x3333));
    let eights = (fours + (fours >> 4)) & u16x8::splat(0x0f0f);
    (eights + (eights >> 8)) & u16x8::splat(0x1f)
}
