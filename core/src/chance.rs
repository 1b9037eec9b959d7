//! Chance that repeats: the same seed gives the same numbers.

/// SplitMix64 (G. Steele, D. Lea, C. Flood, "Fast splittable pseudorandom
/// number generators", OOPSLA 2014; from memory).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Chance(u64);

impl Chance {
    /// Numbers for a seed.
    pub const fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// Other numbers from here on, by what is heard.
    pub const fn stir(&mut self, by: u64) {
        self.0 ^= by.wrapping_mul(0xD6E8_FEB8_6659_FD93);
        let _ = self.next();
    }

    /// The next number.
    pub const fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// 0 .. `end`.
    pub const fn below(&mut self, end: u16) -> u16 {
        (((self.next() >> 48) * end as u64) >> 16) as u16
    }

    /// 0.0 .. 1.0.
    pub fn part(&mut self) -> f32 {
        (self.next() >> 40) as f32 / (1 << 24) as f32
    }
}
