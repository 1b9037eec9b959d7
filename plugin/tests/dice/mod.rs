//! Numbers from one seed (SplitMix64: Steele, Lea and Flood, OOPSLA 2014;
//! constants from public copies).

#![allow(dead_code)] // no test uses all of it

pub struct Dice(pub u64);

impl Dice {
    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
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
