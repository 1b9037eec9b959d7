//! A die that says what the fuzzer wants, and 0 when its bytes are at an end: the
//! plugin's tests throw one of their own (`plugin/tests/dice`).

/// Bytes, each thrown once.
pub struct Dice<'a>(pub &'a [u8]);

impl Dice<'_> {
    /// 0 .. `bound`.
    pub fn below(&mut self, bound: u32) -> u32 {
        let size = if bound > 256 { 2 } else { 1 };
        let (now, later) = self.0.split_at(size.min(self.0.len()));
        self.0 = later;
        now.iter().fold(0, |all, byte| all << 8 | u32::from(*byte)) % bound.max(1)
    }

    /// One of several.
    pub fn pick<T: Copy>(&mut self, from: &[T]) -> T {
        from[self.below(from.len() as u32) as usize]
    }
}
