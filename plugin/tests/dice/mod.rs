//! Numbers from one seed.

#![allow(dead_code)] // no test uses all of it

use sinistra_core::chance::Chance;

pub struct Dice(Chance);

impl Dice {
    pub fn new(seed: u64) -> Self {
        Self(Chance::new(seed))
    }

    pub fn bits(&mut self) -> u64 {
        self.0.next()
    }

    pub fn below(&mut self, bound: u32) -> u32 {
        (self.bits() >> 32) as u32 % bound
    }

    pub fn pick<T: Copy>(&mut self, from: &[T]) -> T {
        from[self.below(from.len() as u32) as usize]
    }

    /// From 0 to 1.
    pub fn part(&mut self) -> f64 {
        f64::from(self.below(1 << 24)) / f64::from((1 << 24) - 1)
    }
}
