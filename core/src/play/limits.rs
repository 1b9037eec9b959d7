//! Low interval limits: how low an interval may lie before it growls.

use crate::pitch::{KeyNumber, Semitones};

/// The lowest key that may be the lower note of an interval, by semitones
/// 0..=11 (unison and octave have no limit).
///
/// Source: "Low Interval Limit", inSync glossary of Sweetwater, a music dealer
/// ("commonly accepted" limits as arranging handbooks print them; middle C is
/// called C3 there and C4 here).
#[rustfmt::skip]
const LOWEST: [u8; 12] = [
//  1   m2  M2  m3  M3  P4  TT  P5  m6  M6  m7  M7
    0,  52, 51, 48, 47, 45, 35, 37, 41, 41, 41, 41,
];

/// Whether `upper` over `lower` would sound muddy, struck together or while
/// the lower one still rings. An octave and wider is always clear. Real-time
/// safe.
pub fn muddy(lower: KeyNumber, upper: KeyNumber) -> bool {
    let Semitones(span) = upper.distance(lower);
    usize::try_from(span)
        .ok()
        .and_then(|i| LOWEST.get(i))
        .is_some_and(|limit| lower.number() < *limit)
}

/// How much lower one note may follow another than both be struck together,
/// in semitones. By ear: G2–B2 still leads to C3, and A1–E2 carries an arpeggio.
const LOWER: i32 = 4;

/// Whether `upper` struck after `lower` growls with what still rings of it: the
/// low interval limits, a third lower; what lies below it never does. Real-time safe.
pub fn growls(lower: KeyNumber, upper: KeyNumber) -> bool {
    let raised = |key: KeyNumber| key.transpose(Semitones(LOWER));
    raised(lower).zip(raised(upper)).is_some_and(|(lower, upper)| muddy(lower, upper))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thirds_need_height_and_fifths_do_not() {
        let muddy = |low, high| muddy(KeyNumber::clamped(low), KeyNumber::clamped(high));
        assert!(muddy(45, 48)); // A2–C3
        assert!(!muddy(48, 51)); // C3–E♭3
        assert!(!muddy(43, 50)); // G2–D3
        assert!(!muddy(36, 52)); // C2–E3, a tenth
        assert!(!muddy(28, 40)); // an octave, however low
    }

    #[test]
    fn one_after_another_a_third_may_lie_a_little_lower() {
        let growls = |low, high| growls(KeyNumber::clamped(low), KeyNumber::clamped(high));
        assert!(growls(41, 45)); // F2, A2
        assert!(!growls(43, 47)); // G2, B2
        assert!(!growls(45, 48)); // A2, C3
        assert!(!growls(36, 43)); // C2, G2
        assert!(growls(31, 38)); // G1, D2: even a fifth
        assert!(!growls(45, 41)); // A2, F2 below it
    }
}
