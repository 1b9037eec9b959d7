//! Striking together: how late this right hand is, and what waits for it.

use crate::play::SlotAt;
use crate::time::Ticks;

/// A slot whose time has come while the right hand has not.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Waiting {
    /// What will be struck.
    pub slot: SlotAt,
    /// When the grid wins.
    pub until: Ticks,
}

/// How far from the beat this player strikes, learned as they play: a right
/// hand that is always exact (a recording on the grid) is not waited for.
#[derive(Clone, Copy, Debug)]
pub struct Punctuality {
    /// Mean distance from the beat, in ticks.
    spread: f32,
    /// Strikes heard, up to [`Self::MEMORY`].
    heard: u16,
}

impl Punctuality {
    /// Strikes that the mean looks back on. By ear: some eight bars.
    const MEMORY: u16 = 16;

    /// Strikes further from the beat than this (a sixteenth's half) are not
    /// meant for it.
    const NEAR: i64 = Ticks::PER_BEAT / 8;

    /// Nothing heard yet.
    pub const fn new() -> Self {
        Self { spread: 0.0, heard: 0 }
    }

    /// A strike of the right hand at `from_beat` from the nearest beat.
    pub fn struck(&mut self, from_beat: Ticks) {
        if from_beat.0.abs() > Self::NEAR {
            return;
        }
        self.heard = (self.heard + 1).min(Self::MEMORY);
        self.spread += (from_beat.0.abs() as f32 - self.spread) / f32::from(self.heard);
    }

    /// How long to wait for this hand: three times its mean distance holds
    /// nearly all strokes of a normal spread (99 % within 3.2 mean absolute
    /// deviations), `most` at the longest.
    pub fn window(&self, most: Ticks) -> Ticks {
        Ticks(((self.spread * 3.0) as i64).clamp(0, most.0.max(0)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_exact_hand_is_not_waited_for() {
        let mut hand = Punctuality::new();
        for _ in 0..4 {
            hand.struck(Ticks(0));
        }
        assert_eq!(hand.window(Ticks(115)), Ticks(0));
    }

    #[test]
    fn a_loose_hand_is_waited_for_up_to_the_window() {
        let mut hand = Punctuality::new();
        for late in [30, -20, 45, 60, 10] {
            hand.struck(Ticks(late));
        }
        assert!(hand.window(Ticks(115)) > Ticks(60));
        assert_eq!(hand.window(Ticks(50)), Ticks(50));
    }
}
