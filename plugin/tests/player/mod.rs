//! A player, and a hand on the plugin's and the host's knobs, at random.

#![allow(dead_code)] // no test uses all of it

use super::dice::Dice;

/// Sample rates, frames a second.
pub const RATES: [f64; 4] = [8_000.0, 44_100.0, 48_000.0, 192_000.0];
/// Lengths of a block, frames.
pub const BLOCKS: [u32; 6] = [1, 16, 64, 100, 512, 4096];
/// Bars, as the host counts them.
pub const METRES: [(u8, u8); 6] = [(4, 4), (3, 4), (6, 8), (5, 4), (7, 8), (12, 8)];

/// A parameter.
pub struct TestKnob {
    pub name: String,
    pub id: u32,
    /// Its lowest value.
    pub lowest: f64,
    /// Steps above the lowest.
    pub steps: u32,
    /// Where it mostly is, if anywhere: both hands are mostly on and look-ahead,
    /// which every stop and start cuts, is mostly off.
    pub mostly: Option<u32>,
}

impl TestKnob {
    /// Of a name, with so many steps from nought, and one of them to begin with.
    pub fn new(name: String, id: u32, steps: u32, first: u32) -> Self {
        let mostly = match name.as_str() {
            "Left hand's own output" => Some(1),
            "Look-ahead" => Some(first),
            _ => (steps == 1).then_some(first),
        };
        Self { name, id, lowest: 0.0, steps, mostly }
    }
}

/// What is done at a frame.
pub enum Deed {
    Strike(i16),
    Release(i16),
    Pedal(bool),
    /// A knob is turned to a step.
    Turn(usize, u32),
}

impl Deed {
    /// The key that it strikes.
    pub fn strikes(&self) -> Option<i16> {
        if let Self::Strike(key) = self { Some(*key) } else { None }
    }
}

/// Knows what keys are down.
#[derive(Default)]
pub struct RandomPlayer {
    pub down: Vec<i16>,
}

impl RandomPlayer {
    /// What is done in a block, with its frames in order.
    pub fn play(&mut self, dice: &mut Dice, frames: u32, knobs: &[TestKnob]) -> Vec<(u32, Deed)> {
        let mut frame = 0;
        let mut deeds = vec![];
        for _ in 0..dice.below(4) {
            frame = (frame + dice.below(frames)).min(frames - 1);
            deeds.extend(self.act(dice, knobs).map(|deed| (frame, deed)));
        }
        deeds
    }

    fn act(&mut self, dice: &mut Dice, knobs: &[TestKnob]) -> Option<Deed> {
        match dice.below(8) {
            0..=2 => {
                // Seldom the player's own left hand: ours rests with it.
                let own = dice.below(20) == 0;
                let key = if own { 36 + dice.below(24) } else { 60 + dice.below(30) } as i16;
                let up = !self.down.contains(&key);
                up.then(|| {
                    self.down.push(key);
                    Deed::Strike(key)
                })
            }
            3..=4 if !self.down.is_empty() => {
                let at = dice.below(self.down.len() as u32) as usize;
                Some(Deed::Release(self.down.swap_remove(at)))
            }
            5 => Some(Deed::Pedal(dice.below(2) == 1)),
            6 => {
                let at = dice.below(knobs.len() as u32) as usize;
                let knob = &knobs[at];
                let step = dice.below(knob.steps + 1);
                let usual = knob.mostly.filter(|_| dice.below(4) > 0);
                Some(Deed::Turn(at, usual.unwrap_or(step)))
            }
            _ => None,
        }
    }
}
