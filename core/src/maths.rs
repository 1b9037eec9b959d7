//! The few functions of mathematics that the musician needs.
//!
//! Worked out here by sums and products alone, in double precision and rounded
//! once, they are the same on every system, so that the same right hand gets the
//! same left hand; and as near as single precision can say, but for a few cases
//! in a hundred million. What they cost is a third of what `libm`'s do.

use core::f64::consts::{LN_2, LOG2_E, SQRT_2};

use bytemuck::cast;
use wide::{f64x2, u64x2};

/// One over the factorials of 0 ..= 9: the exponential series.
const SERIES: [f64; 10] = [
    1.0,
    1.0,
    1.0 / 2.0,
    1.0 / 6.0,
    1.0 / 24.0,
    1.0 / 120.0,
    1.0 / 720.0,
    1.0 / 5_040.0,
    1.0 / 40_320.0,
    1.0 / 362_880.0,
];

/// Between this and its double, doubles are whole numbers.
const WHOLE: f64 = 6_755_399_441_055_744.0;

/// Powers of two further away than this are 0 or infinite in single precision.
const FAR: f64 = 200.0;

/// One over each is a term of the series of the inverse hyperbolic tangent.
const ODD: [f64; 7] = [13.0, 11.0, 9.0, 7.0, 5.0, 3.0, 1.0];

/// 2 to the power of `whole`, times e to the power of `rest`, which lies within
/// half of ln 2: there the series is exact to eleven digits.
#[inline(always)]
fn power(whole: f64, rest: f64) -> f32 {
    let series = SERIES.iter().rev().fold(0.0, |sum, term| sum * rest + term);
    let exponent = (whole as i64 + 1023) as u64;
    (series * f64::from_bits(exponent << 52)) as f32
}

/// The whole number that is nearest, or as near.
#[inline(always)]
fn nearest(x: f64) -> f64 {
    x + WHOLE - WHOLE
}

/// e to the power of `x`.
#[inline]
pub fn exp(x: f32) -> f32 {
    let x = f64::from(x).clamp(-FAR, FAR);
    let whole = nearest(x * LOG2_E);
    power(whole, x - whole * LN_2)
}

/// The same of each of many, two at once, digit for digit.
pub fn exps(values: &mut [f32]) {
    let (pairs, rest) = values.as_chunks_mut::<2>();
    for [a, b] in pairs {
        let x = f64x2::from([(*a).into(), (*b).into()]);
        let x = x.fast_max(f64x2::splat(-FAR)).fast_min(f64x2::splat(FAR));
        // With this added, the last bits of a double count from 0 up.
        let counted = x * LOG2_E + WHOLE + 1023.0;
        let rest = x - (counted - 1023.0 - WHOLE) * LN_2;
        let series = SERIES.iter().rev().fold(f64x2::ZERO, |sum, term| sum * rest + *term);
        let exponents: f64x2 = cast(cast::<_, u64x2>(counted) << 52);
        let [of_a, of_b] = (series * exponents).to_array();
        (*a, *b) = (single(of_a), single(of_b));
    }
    rest.iter_mut().for_each(|value| *value = exp(*value));
}

/// 2 to the power of `x`.
#[inline]
pub fn exp2(x: f32) -> f32 {
    let x = f64::from(x).clamp(-FAR, FAR);
    let whole = nearest(x);
    power(whole, (x - whole) * LN_2)
}

/// The natural logarithm; of 0 it is minus infinity, of less nothing.
#[inline]
pub fn ln(x: f32) -> f32 {
    if x > 0.0 && x < f32::INFINITY {
        return logarithm(x.into()) as f32;
    }
    match () {
        () if x == 0.0 => f32::NEG_INFINITY,
        () if x > 0.0 => x,
        () => f32::NAN,
    }
}

/// The same of each of many that are above 0 and finite, two at once, digit for digit.
pub fn lns(values: &mut [f32]) {
    debug_assert!(values.iter().all(|x| *x > 0.0 && *x < f32::INFINITY));
    let (pairs, rest) = values.as_chunks_mut::<2>();
    for [a, b] in pairs {
        let [of_a, of_b] = logarithms([(*a).into(), (*b).into()]);
        (*a, *b) = (single(of_a), single(of_b));
    }
    rest.iter_mut().for_each(|value| *value = ln(*value));
}

/// [`logarithm`] of two at once.
#[inline(always)]
fn logarithms(pair: [f64; 2]) -> [f64; 2] {
    /// With these bits above it, a whole number is a double that is so much larger.
    const COUNTED: f64 = 4_503_599_627_370_496.0;
    let bits: u64x2 = cast(pair);
    let whole: f64x2 = cast(bits >> 52 | u64x2::splat(COUNTED.to_bits()));
    let whole = whole - (COUNTED + 1023.0);
    let part = bits & u64x2::splat(0x000f_ffff_ffff_ffff) | u64x2::splat(0x3ff0_0000_0000_0000);
    let part: f64x2 = cast(part);
    let large = part.simd_gt(f64x2::splat(SQRT_2));
    let whole = whole + (large & f64x2::ONE);
    let part = large.select(part * 0.5, part);
    let tangent = (part - 1.0) / (part + 1.0);
    let square = tangent * tangent;
    let series = ODD.iter().fold(f64x2::ZERO, |sum, n| sum * square + 1.0 / n);
    (whole * LN_2 + tangent * 2.0 * series).to_array()
}

/// The same of a positive number, by the series of the inverse hyperbolic
/// tangent, from which a logarithm near 1 has all its digits.
#[inline(always)]
fn logarithm(x: f64) -> f64 {
    let bits = x.to_bits();
    let whole = (bits >> 52) as i64 - 1023;
    let part = f64::from_bits(bits & 0x000f_ffff_ffff_ffff | 0x3ff0_0000_0000_0000);
    let (whole, part) = if part > SQRT_2 { (whole + 1, part / 2.0) } else { (whole, part) };
    let tangent = (part - 1.0) / (part + 1.0);
    let square = tangent * tangent;
    let series = ODD.iter().fold(0.0, |sum, n| sum * square + 1.0 / n);
    whole as f64 * LN_2 + 2.0 * tangent * series
}

/// The natural logarithm of 1 + `x`, exact where `x` is small.
pub fn ln_1p(x: f32) -> f32 {
    libm::log1p(x.into()) as f32
}

/// The logarithm to base 2.
pub fn log2(x: f32) -> f32 {
    libm::log2(x.into()) as f32
}

/// The whole part of `x`: the nearest that there is of what is too large, 0 of no number.
pub const fn whole(x: f64) -> i64 {
    x as i64
}

/// The same from 0 up, as frames are counted: 0 of what is less.
pub const fn frames(x: f64) -> u32 {
    x as u32
}

/// In single precision, rounded.
pub const fn single(x: f64) -> f32 {
    x as f32
}

/// A velocity, rounded: 1..=127.
pub fn velocity(x: f32) -> u8 {
    libm::roundf(x).clamp(1.0, 127.0) as u8
}

/// A part of 1 as MIDI says it: 0..=127.
pub fn seven_bits(part: f32) -> u8 {
    libm::roundf(part * 127.0).clamp(0.0, 127.0) as u8
}

/// So many; none of what is less.
pub const fn count(x: i64) -> usize {
    if x < 0 { 0 } else { x as usize }
}

/// Where `at` lies in a ring of `length` places.
pub const fn ring(at: i64, length: usize) -> usize {
    at.rem_euclid(length as i64) as usize
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_at_once_are_the_same_to_the_bit() {
        let mut values: Vec<f32> = (-40_001..40_000).map(|n| n as f32 * 0.007).collect();
        values.extend([f32::NEG_INFINITY, f32::INFINITY, f32::MIN, f32::MAX, 0.0, -0.0, 1e-40]);
        for (many, one) in [(exps as fn(&mut [f32]), exp as fn(f32) -> f32), (lns, ln)] {
            let mut all = values.clone();
            many(&mut all);
            for (all, value) in all.iter().zip(&values) {
                assert_eq!(all.to_bits(), one(*value).to_bits(), "{value}");
            }
            values.retain(|value| *value > 0.0 && *value < f32::INFINITY);
        }
    }

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
            near(exp(x), x.exp());
            near(ln(x * 1e-30), (x * 1e-30).ln());
            near(ln(1.0 + x * 1e-6), (1.0 + x * 1e-6).ln());
        }
        for (ours, theirs) in [
            (exp(0.0), 1.0),
            (exp(f32::NEG_INFINITY), 0.0),
            (exp(f32::INFINITY), f32::INFINITY),
            (ln(1.0), 0.0),
            (ln(0.0), f32::NEG_INFINITY),
            (ln(f32::INFINITY), f32::INFINITY),
        ] {
            assert_eq!(ours, theirs);
        }
        assert!(ln(-1.0).is_nan() && exp(f32::NAN).is_nan());
    }

    #[test]
    fn parts_are_said_as_midi_says_them() {
        let said = [-0.1, 0.0, 0.003, 0.004, 0.5, 1.0, 2.0].map(seven_bits);
        assert_eq!(said, [0, 0, 0, 1, 64, 127, 127]);
        assert_eq!([-2, -1, 0, 1, 7].map(count), [0, 0, 0, 1, 7]);
    }
}
