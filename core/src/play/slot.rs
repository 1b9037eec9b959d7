//! A slot: a place of the bar where a pattern may play.

use crate::maths;
use alloc::boxed::Box;

use super::Role;
use super::part::Voice;
use crate::pitch::KeyNumber;
use crate::time::{Place, Ticks};

/// A place of the bar where the left hand may play.
#[derive(Clone, Debug, PartialEq)]
pub struct Slot {
    /// From the bar line, without swing.
    pub offset: Ticks,
    /// What each voice plays there, by its number among the pattern's parts.
    pub parts: [Option<u16>; 2],
    /// How busy the player must want it for the slot to sound, 1..=100; up to
    /// 50 it is written in the pattern, above it fills.
    pub from_busy: u8,
    /// How strong its place is: 0 the bar line, larger is weaker.
    pub level: u8,
    /// Whether swing moves it, and in which beat it then lies: start and
    /// length from the bar line.
    pub swings: Option<(Ticks, Ticks)>,
}

impl Slot {
    /// Whether it is in the pattern as written; else it is a fill.
    pub const fn written(&self) -> bool {
        self.from_busy <= 50
    }

    /// The number of what `voice` plays there.
    pub const fn part(&self, voice: Voice) -> Option<u16> {
        match voice {
            Voice::Bass => self.parts[0],
            Voice::Tenor => self.parts[1],
        }
    }

    /// From the bar line, with the "and" at `swing` of its beat (0.5 is
    /// straight). What lies between moves in proportion.
    pub fn swung(&self, swing: f32) -> Ticks {
        let Some(beat) = self.swings else { return self.offset };
        swung(self.offset, beat, swing)
    }
}

/// Where `offset` sounds in its beat (start and length from the bar line).
pub fn swung(offset: Ticks, (start, length): (Ticks, Ticks), swing: f32) -> Ticks {
    if swing <= 0.5 {
        return offset; // straight: the sum below comes to the same
    }
    let into = (offset - start).0 as f64 / length.0 as f64;
    let moved = super::swing::forth(into, swing);
    start + Ticks(maths::whole(libm::round(moved * length.0 as f64)))
}

/// The slots of one bar, in time order.
pub type BarOfSlots = Box<[Slot]>;

/// A slot at a time of the song.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SlotAt {
    /// When it sounds: swing applied.
    pub at: Ticks,
    /// Where it is counted: without swing.
    pub grid: Ticks,
    /// The bar that it lies in.
    pub place: Place,
    /// Its number among the slots of its bar, fills included, from 0.
    pub index: usize,
}

/// A slot of the pattern, or a stroke between two of them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SlotView {
    /// When it sounds.
    pub at: Ticks,
    /// What was played there, or will be if nothing changes; `None` for a rest.
    pub role: Option<Role>,
    /// The (lowest) key of it.
    pub key: Option<KeyNumber>,
    /// What is struck with it: bit n is the key n + 1 semitones above.
    pub above: u32,
    /// Whether it is past: then it is as it was played.
    pub played: bool,
    /// When the lowest key ended, and the last of the others; `None` while they sound,
    /// and of what is to come.
    pub ends: [Option<Ticks>; 2],
}

/// What sounds for less was not heard to begin yet: a sixteenth of a beat.
const SHORTEST: Ticks = Ticks(Ticks::PER_BEAT / 16);

impl SlotView {
    /// What is struck at `at`, in any order; nothing is a rest. Real-time safe.
    pub fn of(
        at: Ticks,
        played: bool,
        struck: impl Iterator<Item = (KeyNumber, Role)> + Clone,
    ) -> Self {
        let lowest = struck.clone().min_by_key(|(key, _)| *key);
        let bit = |key: KeyNumber| {
            let steps = key.number().checked_sub(lowest?.0.number())?.checked_sub(1)?;
            1_u32.checked_shl(u32::from(steps))
        };
        let above = struck.filter_map(|(key, _)| bit(key)).fold(0, |all, bit| all | bit);
        let (key, role) = (lowest.map(|low| low.0), lowest.map(|low| low.1));
        Self { at, role, key, above, played, ends: [None; 2] }
    }

    /// Time is `at`, and keys for which `ended` holds (a bit each) sound no more.
    /// Real-time safe.
    pub fn end(&mut self, at: Ticks, ended: impl Fn(u128) -> bool) {
        let Some(key) = self.key.filter(|_| self.played && at >= self.at + SHORTEST) else {
            return;
        };
        let low = 1_u128 << key.number();
        let others = u128::from(self.above) << key.number() << 1;
        for (end, keys) in self.ends.iter_mut().zip([low, others]) {
            if end.is_none() && keys != 0 && ended(keys) {
                *end = Some(at);
            }
        }
    }

    /// Its keys that are known, from low to high.
    pub fn keys(&self) -> impl Iterator<Item = KeyNumber> + '_ {
        let above = (0..32_u8).filter(|n| self.above & 1 << n != 0);
        let steps = core::iter::once(0).chain(above.map(|n| n + 1));
        let low = self.key.map(KeyNumber::number);
        steps.filter_map(move |step| KeyNumber::new(low?.checked_add(step)?))
    }
}

#[cfg(test)]
mod tests {
    use alloc::vec::Vec;

    use super::*;

    #[test]
    fn a_slot_shows_the_keys_that_it_was_made_of() {
        let keys = [64, 48, 55, 49].map(KeyNumber::clamped);
        let struck = keys.map(|key| (key, Role::Root));
        let view = SlotView::of(Ticks::ZERO, true, struck.into_iter());
        let keys: Vec<_> = view.keys().map(|key| key.number()).collect();
        assert_eq!(keys, [48, 49, 55, 64]);
    }
}
