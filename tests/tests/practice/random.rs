//! A small random source, so that a seed always makes the same take.

/// SplitMix64 (Steele, Lea & Flood, OOPSLA 2014).
pub struct Random(pub u64);

impl Random {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// 0 ≤ x < 1.
    pub fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// `from` ≤ x < `to`.
    pub fn between(&mut self, from: f64, to: f64) -> f64 {
        from + (to - from) * self.unit()
    }

    /// True in `share` of the cases.
    pub fn chance(&mut self, share: f64) -> bool {
        self.unit() < share
    }

    /// One of them.
    pub fn pick<T: Copy>(&mut self, of: &[T]) -> T {
        of[(self.next() % of.len() as u64) as usize]
    }

    /// Normal with standard deviation `sd`, cut at three of it.
    pub fn normal(&mut self, sd: f64) -> f64 {
        let sum: f64 = (0..12).map(|_| self.unit()).sum();
        (sum - 6.0).clamp(-3.0, 3.0) * sd
    }
}
