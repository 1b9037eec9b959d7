//! A number that stands for a text.

use std::fmt;

/// FNV-1a, 64 bits (Fowler, Noll, Vo): the same everywhere and for ever.
pub struct Checksum(u64);

impl Checksum {
    /// Of nothing.
    pub fn new() -> Self {
        Self(0xcbf2_9ce4_8422_2325)
    }

    /// Its upper half, as it is written.
    pub fn written(&self) -> String {
        format!("{:08x}", self.0 >> 32)
    }
}

impl fmt::Write for Checksum {
    fn write_str(&mut self, text: &str) -> fmt::Result {
        for byte in text.bytes() {
            self.0 = (self.0 ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3);
        }
        Ok(())
    }
}
