//! Time goes by: what sounds becomes the past, and the past is judged again.

use super::signs::TOGETHER;
use super::{Ear, hindsight, past};
use crate::chord::Chord;
use crate::hear::{Expected, HeldKeys};
use crate::maths;
use crate::pitch::{KeyNumber, PitchClass};
use crate::time::Ticks;

/// After a gap like this the time has jumped, or the song is another one.
const GAP: Ticks = Ticks(64 * Ticks::PER_BEAT);

/// Of what goes by at once no more than so much tells of bars and repeats: while time
/// rolls it is half a beat, after a jump over less than a gap nobody has played the rest.
const TOLD: Ticks = Ticks(4 * Ticks::PER_BEAT);

impl Ear {
    /// Time goes on to `at`, or jumps there.
    pub(super) fn pass(&mut self, at: Ticks) {
        let step = at - self.time;
        if step < Ticks::ZERO - TOGETHER || step > GAP {
            self.notes.jump(at);
            self.jump(at);
            self.present = self.present.map(|(chord, _)| (chord, at));
            self.accounted = at;
            self.due = None;
            self.stroke = None;
        }
        self.time = at;
        let beats = maths::single((at - self.accounted).beats());
        if beats > 0.0 {
            self.tonality.fade(beats);
            let mut keys = self.held.sounding();
            while keys != 0 {
                let key = KeyNumber::clamped(keys.trailing_zeros() as i32);
                self.tonality.hear(key.class(), beats.min(4.0));
                keys &= keys - 1;
            }
            self.tonality.decide();
            self.write_down(at);
            self.accounted = at;
        }
    }

    /// What sounded until `at` becomes the past.
    fn write_down(&mut self, at: Ticks) {
        let keys = self.held.down() & (u128::MAX << self.split.number());
        let mut from = self.accounted;
        while at >= self.past.end() {
            let end = self.past.end();
            self.past.sound(keys, end - from);
            from = from.max(end);
            let ended = self.past.end_frame();
            if ended.frame % 2 == 0 {
                self.judged.set(ended.frame, [0.0; 12]);
            }
            // Silence tells nothing, and may be long.
            let lately = self.past.end() > at - TOLD;
            if lately && (keys != 0 || ended.keys > 0) {
                self.felt.frame(ended, &self.past, self.place);
                self.likeness.frame(&self.past, ended.frame);
            }
        }
        self.past.sound(keys, at - from);
    }

    /// Time has jumped to `at`.
    pub(super) fn jump(&mut self, at: Ticks) {
        self.past.jump(at);
        self.likeness.forget();
        self.to_judge = [self.past.now(); 2];
    }

    /// Keys come up: the notes that sound no more end at `at`.
    pub(super) fn quieten(&mut self, at: Ticks, act: impl FnOnce(&mut HeldKeys)) {
        let sounding = self.held.sounding();
        act(&mut self.held);
        let over = sounding & !self.held.sounding() & (u128::MAX << self.split.number());
        for note in self.notes.iter().filter(|note| note.off.is_none()) {
            if over >> note.key.number() & 1 == 1 {
                self.felt.note(note.on, at - note.on, self.place);
            }
        }
        self.notes.end(sounding & !self.held.sounding(), at);
    }

    /// Judges a half beat again that has since become clearer, if there is one;
    /// one a time, so that no question takes long.
    pub(super) fn judge_again(&mut self) -> bool {
        let now = self.past.now();
        for (turn, age) in [8, 16].into_iter().enumerate() {
            let Some(to_judge) = self.to_judge.get_mut(turn) else { continue };
            // What was missed for long is not caught up with.
            let next = (*to_judge).max(now - age - 16).max(self.past.first());
            let frame = next + next.rem_euclid(2);
            *to_judge = frame;
            if frame + age <= now {
                *to_judge = frame + 2;
                let signs = hindsight::HindsightSigns::gather(self, frame, age, self.place);
                self.judged.set(frame, self.hindsight.roots(signs.view()));
                return true;
            }
        }
        false
    }

    /// The half beats that began from `from` to `until` as judged again now that more
    /// has followed: when each begins, and how likely each root is. Those that
    /// are yet to be judged are left out.
    pub fn judged(
        &self,
        from: Ticks,
        until: Ticks,
    ) -> impl Iterator<Item = (Ticks, [f32; 12])> + '_ {
        let frame = |at: Ticks| self.past.frame_of(at);
        let first = frame(from) + frame(from).rem_euclid(2);
        let halves = (first..=frame(until)).step_by(2);
        let known = halves.map(|half| (half, self.judged.at(&self.past, half)));
        let known = known.filter(|(_, odds)| odds.iter().sum::<f32>() > 0.5);
        known.map(|(half, odds)| (self.past.start_of(half) + Ticks(past::EARLY), odds))
    }

    /// The chord on `root` that sounded from `from` until `until`.
    pub fn chord_on(&self, root: PitchClass, from: Ticks, until: Ticks) -> Chord {
        self.coloured(root, from, until - TOGETHER, &Expected::NOTHING)
    }
}
