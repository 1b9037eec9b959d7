//! Sums around the circle of twelve pitch classes, by their waves.
//!
//! A scorer weighs what it sees by how far above the candidate root it lies:
//! the same weights for each of the twelve, turned round. That is a circular
//! convolution, and the discrete Fourier transform makes a product of it (the
//! convolution theorem): the constant, the alternation, and five complex waves
//! between them, each multiplied by three real products (Gauss). So seventeen
//! products do for a hundred and forty-four.

#![allow(clippy::indexing_slicing, reason = "parts of arrays whose sizes the types say")]

use crate::maths;
use core::ops::{Add, Sub};

use wide::f32x4;

/// Products of two sequences of twelve: the constant's, the alternation's, and
/// three of each wave.
pub const PARTS: usize = 17;

const HALF: f64 = 0.5;
const ROOT: f64 = 0.866_025_403_784_438_6; // √3 / 2, the sine of 60°

/// A number, or several side by side.
pub trait Number: Copy + Add<Output = Self> + Sub<Output = Self> {
    /// That many times as much.
    #[must_use]
    fn times(self, factor: f64) -> Self;
}

impl Number for f64 {
    fn times(self, factor: f64) -> Self {
        self * factor
    }
}

impl Number for f32 {
    #[inline(always)]
    fn times(self, factor: f64) -> Self {
        self * maths::single(factor)
    }
}

impl Number for f32x4 {
    #[inline(always)]
    fn times(self, factor: f64) -> Self {
        self * f32x4::splat(maths::single(factor))
    }
}

/// Cosines of 30° · n · k summed over n = 0 ..= 6, for each k = 0 ..= 6.
#[inline(always)]
fn cosines<T: Number>([a, b, c, d, e, f, g]: [T; 7]) -> [T; 7] {
    let (outer, across) = (b + f, b - f);
    let (inner, between) = (c + e, c - e);
    let (even, odd) = (a + g, a - g);
    let (most, least) = (even + d, even - d);
    let (high, low) = (odd + between.times(HALF), across.times(ROOT));
    let (wide, narrow) = ((outer - inner).times(HALF), (outer + inner).times(HALF));
    [
        most + outer + inner,
        high + low,
        least + wide,
        odd - between,
        most - narrow,
        high - low,
        least - outer + inner,
    ]
}

/// Sines of 30° · n · k summed over n = 1 ..= 5, for each k = 1 ..= 5.
#[inline(always)]
fn sines<T: Number>([b, c, d, e, f]: [T; 5]) -> [T; 5] {
    let (outer, across) = (b + f, b - f);
    let (inner, between) = (c + e, c - e);
    let (slow, fast) = (outer.times(HALF) + d, inner.times(ROOT));
    [
        slow + fast,
        (across + between).times(ROOT),
        outer - d,
        (across - between).times(ROOT),
        slow - fast,
    ]
}

/// The waves of twelve values: cosine and sine of each.
#[inline(always)]
fn waves<T: Number>(v: [T; 12]) -> ([T; 7], [T; 5]) {
    let [a, b, c, d, e, f, g, h, i, j, k, l] = v;
    (cosines([a, b + l, c + k, d + j, e + i, f + h, g]), sines([l - b, k - c, j - d, i - e, h - f]))
}

/// Twelve values as factors of the products.
#[inline(always)]
pub fn factors<T: Number>(values: [T; 12]) -> [T; PARTS] {
    let ([constant, a, b, c, d, e, alternation], [p, q, r, s, t]) = waves(values);
    #[rustfmt::skip]
    let factors = [
        constant, alternation,
        a + p, a, p,
        b + q, b, q,
        c + r, c, r,
        d + s, d, s,
        e + t, e, t,
    ];
    factors
}

/// Twelve weights as the other factors: weight n is for a value n places below.
pub fn weights(weights: [f64; 12]) -> [f32; PARTS] {
    let (cosines, sines) = waves(weights);
    let mut parts = [0.0; PARTS];
    parts[0] = maths::single(cosines[0] / 12.0);
    parts[1] = maths::single(cosines[6] / 12.0);
    for (parts, (c, d)) in
        parts[2..].as_chunks_mut().0.iter_mut().zip(cosines[1..].iter().zip(sines))
    {
        *parts = [c / 6.0, (d - c) / 6.0, (c + d) / 6.0].map(maths::single);
    }
    parts
}

/// The twelve sums that the products stand for.
#[inline(always)]
pub fn sums<T: Number>(products: [T; PARTS]) -> [T; 12] {
    let [constant, alternation, waves @ ..] = products;
    let wave = |n: usize| (waves[3 * n] - waves[3 * n + 2], waves[3 * n] + waves[3 * n + 1]);
    let ((b, l), (c, k), (d, j), (e, i), (f, h)) = (wave(0), wave(1), wave(2), wave(3), wave(4));
    let [a, b, c, d, e, f, g] = cosines([constant, b, c, d, e, f, alternation]);
    let [l, k, j, i, h] = sines([l, k, j, i, h]);
    [a, b - l, c - k, d - j, e - i, f - h, g, f + h, e + i, d + j, c + k, b + l]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn products_of_waves_are_sums_around_the_circle() {
        let values: [f32; 12] = core::array::from_fn(|n| (n * n % 7) as f32 - 1.5);
        let turned: [f32; 12] = core::array::from_fn(|n| (n * 5 % 11) as f32 * 0.3 - 1.0);
        let (ours, others) = (factors(values), weights(turned.map(f64::from)));
        let found = sums(core::array::from_fn(|n| ours[n] * others[n]));
        for (place, found) in found.iter().enumerate() {
            let direct: f32 =
                (0..12).map(|from| values[from] * turned[(place + 12 - from) % 12]).sum();
            assert!((found - direct).abs() < 1e-4, "{place}: {found}, not {direct}");
        }
    }
}
