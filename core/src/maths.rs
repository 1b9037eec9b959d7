//! The few functions of mathematics that the musician needs.
//!
//! They come from `libm`, not from the machine's own library, so that the
//! same right hand gets the same left hand on every system. In single
//! precision they are worked out in double and rounded once, which is the
//! nearest number there is but for a few cases in a hundred million.

/// e to the power of `x`.
pub fn exp(x: f32) -> f32 {
    libm::exp(x.into()) as f32
}

/// 2 to the power of `x`.
pub fn exp2(x: f32) -> f32 {
    libm::exp2(x.into()) as f32
}

/// The natural logarithm.
pub fn ln(x: f32) -> f32 {
    libm::log(x.into()) as f32
}

/// The natural logarithm of 1 + `x`, exact where `x` is small.
pub fn ln_1p(x: f32) -> f32 {
    libm::log1p(x.into()) as f32
}

/// The logarithm to base 2.
pub fn log2(x: f32) -> f32 {
    libm::log2(x.into()) as f32
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Against the library of the machine, on which the tables were learned.
    #[test]
    fn agrees_with_the_library_of_the_machine() {
        let near = |ours: f32, theirs: f32| {
            assert!(ours.to_bits().abs_diff(theirs.to_bits()) <= 1, "{ours} is not {theirs}");
        };
        for n in 1..100_000 {
            let x = n as f32 / 1000.0;
            near(exp(-x), (-x).exp());
            near(exp2(-x), (-x).exp2());
            near(ln(x), x.ln());
            near(ln_1p(x), x.ln_1p());
            near(log2(x), x.log2());
        }
    }
}
