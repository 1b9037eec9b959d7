//! Numbers that make the same take from the same seed.

use sinistra_core::chance::Chance;

pub struct Random(Chance);

impl Random {
    pub const fn new(seed: u64) -> Self {
        Self(Chance::new(seed))
    }

    /// 0 ≤ x < 1.
    pub fn unit(&mut self) -> f64 {
        (self.0.next() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// `from` ≤ x < `to`.
    pub fn between(&mut self, from: f64, to: f64) -> f64 {
        from + (to - from) * self.unit()
    }

    /// True in `share` of the cases.
    pub fn chance(&mut self, share: f64) -> bool {
        self.unit() < share
    }

    pub fn pick<T: Copy>(&mut self, of: &[T]) -> T {
        of[(self.0.next() % of.len() as u64) as usize]
    }

    /// Normal with standard deviation `sd`, cut at three of it.
    pub fn normal(&mut self, sd: f64) -> f64 {
        let sum: f64 = (0..12).map(|_| self.unit()).sum();
        (sum - 6.0).clamp(-3.0, 3.0) * sd
    }
}
