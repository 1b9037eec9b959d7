//! Odds and sums of the twelve roots or classes, C first.

use crate::pitch::PitchClass;

/// The likeliest root with its odds; the lower one of two that are equal.
pub(super) fn likeliest(odds: &[f32; 12]) -> (PitchClass, f32) {
    PitchClass::all().zip(odds.iter().copied()).fold((PitchClass::C, 0.0), |best, (root, odds)| {
        if odds > best.1 { (root, odds) } else { best }
    })
}

/// Adds up to three, whatever there was; little stays little.
pub(super) fn shares(mut sums: [f32; 12]) -> [f32; 12] {
    let scale = 3.0 / (sums.iter().sum::<f32>() + 0.3);
    sums.iter_mut().for_each(|s| *s *= scale);
    sums
}
