//! Clef, key signature and time signature.

use super::super::written::Staff;
use super::glyph::Glyph;
use super::heads::y_of;
use super::mark::{Mark, at, glyph};
use sinistra_core::key::WrittenKey;
use sinistra_core::time::Metre;

/// Between the start of the staff and its clef, and after it.
const BEFORE_CLEF: f32 = 0.6;
const AFTER_CLEF: f32 = 0.7;
const AFTER_KEY: f32 = 0.7;
const AFTER_TIME: f32 = 0.6;
/// Each sharp or flat of a key signature.
const SHARP: f32 = 1.0;
const FLAT: f32 = 0.9;

/// Steps from the middle line of the treble staff, in the order of the
/// signature: F C G D A E B, and B E A D G C F. Common practice; in the bass
/// clef two steps lower.
const SHARPS: [i32; 7] = [4, 1, 5, 2, -1, 3, 0];
const FLATS: [i32; 7] = [0, 3, -1, 2, -2, 1, -3];

/// How much room clef, key and, if there is one, metre take.
pub(super) fn width(key: WrittenKey, metre: Option<Metre>) -> f32 {
    let clef = BEFORE_CLEF + Glyph::BASS_CLEF.width() + AFTER_CLEF;
    clef + key_width(key) + metre.map_or(0.0, time_width)
}

fn key_width(key: WrittenKey) -> f32 {
    let fifths = key.fifths();
    let each = if fifths > 0 { SHARP } else { FLAT };
    if fifths == 0 { 0.0 } else { f32::from(fifths.unsigned_abs()) * each + AFTER_KEY }
}

/// How much room a time signature takes.
pub(super) fn time_width(metre: Metre) -> f32 {
    digits_width(metre.beats()).max(digits_width(metre.unit())) + AFTER_TIME
}

fn digits(number: u8) -> Vec<u8> {
    if number >= 10 { vec![number / 10, number % 10] } else { vec![number] }
}

fn digits_width(number: u8) -> f32 {
    digits(number).len() as f32 * Glyph::time_digit(0).width()
}

/// Clef and key signature at the start of a staff whose top line is at 0.
pub(super) fn opening(staff: Staff, key: WrittenKey, x: f32) -> Vec<Mark> {
    let (clef, y, lower) = match staff {
        Staff::Right => (Glyph::TREBLE_CLEF, 3.0, 0),
        Staff::Left => (Glyph::BASS_CLEF, 1.0, 2),
    };
    let mut marks = vec![glyph(clef, at(x + BEFORE_CLEF, y))];
    let x = x + BEFORE_CLEF + Glyph::BASS_CLEF.width() + AFTER_CLEF;
    let fifths = key.fifths();
    let (steps, each, alter) = if fifths > 0 { (SHARPS, SHARP, 1) } else { (FLATS, FLAT, -1) };
    for (n, step) in steps.iter().take(usize::from(fifths.unsigned_abs())).enumerate() {
        let place = at(x + n as f32 * each, y_of(step - lower));
        marks.push(glyph(Glyph::accidental(alter), place));
    }
    marks
}

/// A time signature that starts at `x`.
pub(super) fn time(metre: Metre, x: f32) -> Vec<Mark> {
    let width = time_width(metre) - AFTER_TIME;
    let mut marks = Vec::new();
    for (number, y) in [(metre.beats(), 1.0), (metre.unit(), 3.0)] {
        let mut x = x + (width - digits_width(number)) / 2.0;
        for digit in digits(number) {
            marks.push(glyph(Glyph::time_digit(digit), at(x, y)));
            x += Glyph::time_digit(digit).width();
        }
    }
    marks
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sheet::engrave::mark::Shape;
    use sinistra_core::key::{Key, Mode};
    use sinistra_core::pitch::PitchClass;

    #[test]
    fn b_flat_major_has_its_flats_on_b_and_e_in_both_clefs() {
        let key = Key { tonic: PitchClass::new(10), mode: Mode::Major };
        let ys = |staff| -> Vec<f32> {
            let marks = opening(staff, key.into(), 0.0);
            let glyphs = marks.iter().skip(1).filter_map(|mark| match &mark.shape {
                Shape::Glyph { origin, .. } => Some(origin.y),
                _ => None,
            });
            glyphs.collect()
        };
        assert_eq!(ys(Staff::Right), [2.0, 0.5]); // the middle line, the top space
        assert_eq!(ys(Staff::Left), [3.0, 1.5]); // second line from below, a line up
    }

    #[test]
    fn twelve_eight_has_two_digits_over_one() {
        let marks = time(Metre::new(12, 8).expect("a metre"), 0.0);
        assert_eq!(marks.len(), 3);
    }
}
