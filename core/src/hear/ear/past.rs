//! The right hand so far in sixteenths: what was struck, how long it sounded.

#![allow(clippy::indexing_slicing, reason = "a slot lies in the ring")]

use bytemuck::cast;
use wide::{f32x4, i32x4, u32x4};

use crate::maths;
use crate::pitch::KeyNumber;
use crate::time::{Place, Ticks};

/// A sixteenth of a quarter-note bar.
pub const FRAME: i64 = Ticks::PER_BEAT / 4;

/// A stroke that comes this much before a frame belongs to it: a hand that
/// comes a little early owns the coming beat.
pub const EARLY: i64 = Ticks::PER_BEAT / 16;

/// Frames that are kept: seventy bars of four quarter notes.
pub const KEPT: usize = 1120;

/// A stroke counts as much as this much sound, in ticks.
const STROKE: u32 = 240;
const _: () = assert!(STROKE as i64 == Ticks::PER_BEAT / 4);

/// Fixed size: a ring of frames and the one that is being played. Times given
/// are the player's; frames start [`EARLY`] before their sixteenth.
#[derive(Clone, Debug)]
pub struct Past {
    /// Classes struck in each frame, bit n for class n.
    struck: [u16; KEPT],
    /// The lowest key struck in each frame; 255 if none was.
    low: [u8; KEPT],
    /// Sound of each class before each frame, in ticks, wrapping around.
    sums: [[u32; 12]; KEPT],
    /// The present frame's number; its parity is that of its place in the bar.
    now: i64,
    /// Frames before this one hold nothing.
    first: i64,
    /// Where the present frame starts.
    start: Ticks,
    /// What has sounded before the present moment.
    sound: [u32; 12],
    present_struck: u16,
    present_low: u8,
    present_keys: u8,
}

/// What a frame was like when it ended.
#[derive(Clone, Copy, Debug)]
pub struct Ended {
    /// Its number.
    pub frame: i64,
    /// Where it started.
    pub start: Ticks,
    /// Keys struck.
    pub keys: u8,
    /// The lowest of them; 255 if none was.
    pub low: u8,
}

impl Past {
    /// Nothing was played.
    pub fn new() -> Self {
        Self {
            struck: [0; KEPT],
            low: [u8::MAX; KEPT],
            sums: [[0; 12]; KEPT],
            now: 0,
            first: 0,
            start: Ticks(-EARLY),
            sound: [0; 12],
            present_struck: 0,
            present_low: u8::MAX,
            present_keys: 0,
        }
    }

    /// The present frame's number.
    pub fn now(&self) -> i64 {
        self.now
    }

    /// The first frame that is still known.
    pub fn first(&self) -> i64 {
        self.first.max(self.now - KEPT as i64 + 1)
    }

    /// Where a frame starts, if the grid has not moved since.
    pub fn start_of(&self, frame: i64) -> Ticks {
        self.start + Ticks((frame - self.now).saturating_mul(FRAME))
    }

    /// The frame that holds `at`, if the grid has not moved since.
    pub fn frame_of(&self, at: Ticks) -> i64 {
        self.now.saturating_add((at - self.start).0.div_euclid(FRAME))
    }

    /// Where the present frame ends.
    pub fn end(&self) -> Ticks {
        self.start + Ticks(FRAME)
    }

    /// A key of the right hand is struck in the present frame.
    pub fn strike(&mut self, key: KeyNumber) {
        let class = key.class().index();
        self.present_struck |= 1 << class;
        self.present_low = self.present_low.min(key.number());
        self.present_keys = self.present_keys.saturating_add(1);
        self.sound[class] = self.sound[class].wrapping_add(STROKE);
    }

    /// `keys` (bit n is key n) sound for `span`, within the present frame.
    pub fn sound(&mut self, mut keys: u128, span: Ticks) {
        let ticks = u32::try_from(span.0.clamp(0, FRAME)).unwrap_or(0);
        while keys != 0 {
            let class = keys.trailing_zeros() as usize % 12;
            self.sound[class] = self.sound[class].wrapping_add(ticks);
            keys &= keys - 1;
        }
    }

    /// The present frame ends.
    pub fn end_frame(&mut self) -> Ended {
        let ended = Ended {
            frame: self.now,
            start: self.start,
            keys: self.present_keys,
            low: self.present_low,
        };
        let slot = slot(self.now);
        self.struck[slot] = self.present_struck;
        self.low[slot] = self.present_low;
        self.now += 1;
        self.start = self.end();
        self.sums[self::slot(self.now)] = self.sound;
        self.present_struck = 0;
        self.present_low = u8::MAX;
        self.present_keys = 0;
        ended
    }

    /// Time has jumped to `at`: the frames so far are kept no more.
    pub fn jump(&mut self, at: Ticks) {
        self.now += 2; // one may be half full
        self.first = self.now;
        self.start = at;
        self.sums[slot(self.now)] = self.sound;
        self.present_struck = 0;
        self.present_low = u8::MAX;
        self.present_keys = 0;
    }

    /// Lays the present frame on the grid of `place`'s bar; a frame that was
    /// begun on another grid is cut short or drawn out.
    pub fn align(&mut self, at: Ticks, place: Place) {
        let from_bar = (at + Ticks(EARLY) - place.bar).0.div_euclid(FRAME);
        let start = place.bar + Ticks(from_bar.saturating_mul(FRAME)) - Ticks(EARLY);
        self.start = start;
        if self.now.wrapping_sub(from_bar).rem_euclid(2) != 0 {
            self.end_frame();
            self.start = start;
        }
    }

    /// When the present half beat, of two frames, ends.
    pub fn half_ends(&self) -> Ticks {
        let second = self.now.rem_euclid(2) == 1;
        if second { self.end() } else { self.end() + Ticks(FRAME) }
    }

    /// Classes struck in a frame; 0 where it is not known.
    pub fn struck(&self, frame: i64) -> u16 {
        match () {
            () if frame == self.now => self.present_struck,
            () if frame > self.now || frame < self.first() => 0,
            () => self.struck[slot(frame)],
        }
    }

    /// How many steps back from `frame`, each of `step` frames, are known.
    pub fn steps_known(&self, frame: i64, step: i64) -> usize {
        maths::count((frame - self.first()) / step.max(1))
    }

    /// Classes struck one step before `frame`, two steps and so on; 0 where it
    /// is not known.
    pub fn struck_before<const N: usize>(&self, frame: i64, step: i64) -> [u16; N] {
        let mut struck = [0; N];
        let step = step.clamp(1, KEPT as i64);
        let mut from = slot(frame);
        for struck in struck.iter_mut().take(self.steps_known(frame, step)) {
            let back = maths::count(step);
            from = if from >= back { from - back } else { from + KEPT - back };
            *struck = self.struck.get(from).copied().unwrap_or(0);
        }
        struck
    }

    /// The class of the lowest key struck in the frames `from..until`, the
    /// present one included if it is among them.
    pub fn lowest(&self, from: i64, until: i64) -> Option<usize> {
        let mut low = u8::MAX;
        for frame in from.max(self.first())..until.min(self.now + 1) {
            let of = if frame == self.now { self.present_low } else { self.low[slot(frame)] };
            low = low.min(of);
        }
        (low != u8::MAX).then(|| usize::from(low) % 12)
    }

    /// Sound of each class in the frames `from..until`, in quarter notes; a
    /// stroke counts a quarter more. What is not known counts nothing.
    pub fn heard(&self, from: i64, until: i64) -> [f32; 12] {
        let sums = |frame: i64| {
            if frame > self.now { &self.sound } else { &self.sums[slot(frame.max(self.first()))] }
        };
        let (a, b) = (sums(from.min(until)), sums(until));
        let mut heard = [0.0; 12];
        let (a, b) = (a.as_chunks::<4>().0, b.as_chunks::<4>().0);
        for (heard, (a, b)) in heard.as_chunks_mut::<4>().0.iter_mut().zip(a.iter().zip(b)) {
            // So little is kept that it is no more than whole numbers with a sign hold.
            let ticks: i32x4 = cast(u32x4::from(*b) - u32x4::from(*a));
            *heard = (f32x4::from_i32x4(ticks) / Ticks::PER_BEAT as f32).to_array();
        }
        heard
    }
}

/// Where a frame lies in the ring.
fn slot(frame: i64) -> usize {
    maths::ring(frame, KEPT)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_struck_is_known_across_the_seam_of_the_ring() {
        let mut past = Past::new();
        let class = |frame: i64| frame.rem_euclid(11);
        for frame in 0..KEPT as i64 + 20 {
            past.strike(KeyNumber::clamped(60 + class(frame) as i32));
            past.end_frame();
        }
        let now = past.now();
        assert_eq!(past.first(), now - KEPT as i64 + 1);
        assert!(past.struck(past.first()) != 0 && past.struck(now - 1) != 0);
        assert_eq!([past.first() - 1, now, now + 1].map(|frame| past.struck(frame)), [0; 3]);
        for (from, step) in [(now - 15, 1), (now - 2, 3), (now, 16)] {
            let struck: [u16; 24] = past.struck_before(from, step);
            let expected = core::array::from_fn(|n| 1 << class(from - step * (n as i64 + 1)));
            assert_eq!(struck, expected, "{step} apart");
        }
    }
}
