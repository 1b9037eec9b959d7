//! What the song so far says of a place: how it went on at the places that
//! were like it, and which chords they had.

use super::likeness::Like;
use super::past::{KEPT, Past};
use super::twelve::{likeliest, shares};
use crate::maths;
use crate::pitch::PitchClass;

/// Half beats that are remembered.
const HALVES: usize = KEPT / 2;

/// What the past was judged to be, half beat by half beat. Fixed size.
#[derive(Clone, Debug)]
pub struct JudgedPast {
    /// How likely each root was, from a beat or more later on; all 0 where it
    /// was not judged.
    odds: [[f32; 12]; HALVES],
}

impl JudgedPast {
    /// Nothing was judged.
    pub fn new() -> Self {
        Self { odds: [[0.0; 12]; HALVES] }
    }

    /// The half beat that holds `frame` was this.
    pub fn set(&mut self, frame: i64, odds: [f32; 12]) {
        if let Some(place) = self.odds.get_mut(half(frame)) {
            *place = odds;
        }
    }

    /// What it was; all 0 where it is not known.
    pub fn at(&self, past: &Past, frame: i64) -> [f32; 12] {
        let known = (past.first()..past.now()).contains(&frame);
        self.odds.get(half(frame)).filter(|_| known).copied().unwrap_or_default()
    }

    /// The likeliest root of the frames `from..until` and its odds.
    pub fn between(&self, past: &Past, from: i64, until: i64) -> Option<(PitchClass, f32)> {
        let sums = self.sums(past, from, until);
        let all: f32 = sums.iter().sum();
        let (root, most) = likeliest(&sums);
        (all > 0.5).then(|| (root, most / all))
    }

    /// How likely `root` was over the frames `from..until`, where that was judged.
    pub fn odds_of(&self, root: PitchClass, past: &Past, from: i64, until: i64) -> Option<f32> {
        let sums = self.sums(past, from, until);
        let all: f32 = sums.iter().sum();
        (all > 0.5).then(|| root.of(&sums) / all)
    }

    /// Of the frames `from..until`, four bars of them at most.
    fn sums(&self, past: &Past, from: i64, until: i64) -> [f32; 12] {
        let mut sums = [0.0f32; 12];
        let from = from.max(past.first());
        for frame in (from..until.min(past.now()).min(from + LONGEST)).step_by(2) {
            let odds = self.at(past, frame);
            sums.iter_mut().zip(odds).for_each(|(sum, odd)| *sum += odd);
        }
        sums
    }
}

/// Four bars of four: a chord that is held on and on is judged by these.
const LONGEST: i64 = 64;

/// Where the half beat of a frame lies in the ring.
fn half(frame: i64) -> usize {
    maths::ring(frame.div_euclid(2), HALVES)
}

/// What is recalled at one place.
#[derive(Clone, Copy, Debug)]
pub struct Recalled {
    /// What sounded at the like places from there on: for a beat, a half bar
    /// and a bar. Shares.
    pub sound: [[f32; 12]; 3],
    /// Odds of each root there; they add up to what is a repeat.
    pub roots: [f32; 12],
    /// How much of the present is a repeat, 0..=1.
    pub known: f32,
}

impl Recalled {
    /// At `frame`, by `likes`; only what was heard before `until`.
    pub fn gather(
        past: &Past,
        judged: &JudgedPast,
        likes: &[Like],
        frame: i64,
        until: i64,
    ) -> Self {
        let mut recalled = Self { sound: [[0.0; 12]; 3], roots: [0.0; 12], known: 0.0 };
        for like in likes {
            let there = frame - like.lag;
            for (sound, span) in recalled.sound.iter_mut().zip([4, 8, 16]) {
                let heard = shares(past.heard(there, (there + span).min(until)));
                sound.iter_mut().zip(heard).for_each(|(s, h)| *s += like.weight * h);
            }
            let odds = judged.at(past, there);
            recalled.roots.iter_mut().zip(odds).for_each(|(r, o)| *r += like.weight * o);
            recalled.known += like.weight;
        }
        recalled
    }

    /// What the roots recalled speak for each candidate; 0 where nothing is known.
    pub fn speaks(&self) -> [f32; 12] {
        let mut nats = self.roots.map(|odds| odds + 0.02);
        maths::lns(&mut nats);
        nats.map(|nats| nats + 3.5)
    }
}
