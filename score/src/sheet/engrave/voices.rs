//! Two voices on one staff: heads that would run into each other, and rests over what
//! sounds below.
//!
//! Rules: common practice (E. Gould, "Behind Bars", 2011, from memory). The upper
//! voice's stems and ties go up, the lower's down. Of heads a second apart the lower
//! voice's stands to the right, so that both stems are one line; a unison is one head
//! with two stems where both voices write the same head, else two side by side; the
//! lower voice's dots hang under its lines. Accidentals stand before both voices, the sign of a roll
//! before all.

use super::super::written::Layer;
use super::glyph::STEM;
use super::hand::EngravedPiece;
use super::heads::{CLEARANCE, Stack, accidentals, y_of};

/// Makes room for each other's heads where both voices strike.
pub(super) fn part(pieces: &mut [EngravedPiece]) {
    for index in 0..pieces.len() {
        let Some(other) = partner(pieces, index) else { continue };
        // The upper voice's pieces come first in a bar.
        let Some((before, from)) = pieces.split_at_mut_checked(other) else { continue };
        let upper = before.get_mut(index).and_then(|piece| piece.stack.as_mut());
        let lower = from.first_mut().and_then(|piece| piece.stack.as_mut());
        if let (Some(upper), Some(lower)) = (upper, lower) {
            stand_apart(upper, lower);
        }
    }
}

/// What the lower voice has at the moment of the upper voice's heads at `index`.
pub(super) fn partner(pieces: &[EngravedPiece], index: usize) -> Option<usize> {
    let upper = pieces.get(index)?;
    let is_upper = upper.written.layer == Layer::Upper && upper.stack.is_some();
    let beneath = |piece: &EngravedPiece| {
        piece.written.layer == Layer::Lower
            && piece.bar == upper.bar
            && piece.written.offset == upper.written.offset
    };
    pieces.iter().position(beneath).filter(|_| is_upper)
}

/// How far a rest is moved from its usual place: over what sounds meanwhile in the
/// lower voice; not at all where nothing does.
pub(super) fn rest_moves(pieces: &[EngravedPiece], rest: &EngravedPiece) -> f32 {
    let (from, length) = (rest.written.offset, rest.written.length);
    let beneath = pieces.iter().filter(|piece| {
        let (at, until) = (piece.written.offset, piece.written.offset + piece.written.length);
        piece.bar == rest.bar
            && piece.written.layer == Layer::Lower
            && (at < from + length && from < until)
    });
    let highest = beneath.filter_map(|piece| Some(piece.stack.as_ref()?.highest())).max();
    // From the middle line, half a head and half a rest over the head.
    highest.map_or(0.0, |step| (y_of(step) - 2.0 - 0.5 - CLEARANCE - 1.0).floor().min(-2.0))
}

fn stand_apart(upper: &mut Stack, lower: &mut Stack) {
    lower.shift = shift(upper, lower);
    if lower.shift > 0.0 {
        let ends = upper.heads_end().max(lower.heads_end() + lower.shift);
        (upper.dots_from, lower.dots_from) = (ends, ends - lower.shift);
    }
    // One sign for what is rolled in both voices.
    let rolled = [upper.rolled, lower.rolled.take()].into_iter().flatten();
    upper.rolled = rolled.reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)));
    let mut signs: Vec<_> = Vec::new();
    for (_, sign, step) in upper.accidentals.drain(..).chain(lower.accidentals.drain(..)) {
        signs.push((sign, step));
    }
    signs.sort_by_key(|(_, step)| *step);
    upper.accidentals = accidentals(&signs, upper.heads_start().min(lower.heads_start()));
}

/// How far the lower voice's heads stand to the right of the upper's.
fn shift(upper: &Stack, lower: &Stack) -> f32 {
    let shares = upper.has_stem() && (upper.head, upper.dots) == (lower.head, lower.dots);
    let (low, high) = (upper.lowest(), lower.highest());
    if low > high + 1 || (low == high && shares) {
        return 0.0;
    }
    let stems = if upper.has_stem() && lower.has_stem() { STEM } else { 0.0 };
    // Voices that cross stand clear of each other.
    let apart = if low < high { CLEARANCE } else { -stems };
    upper.heads_end() - lower.heads_start().min(0.0) + apart
}

#[cfg(test)]
mod tests {
    use super::super::glyph::Glyph;
    use super::*;
    use crate::sheet::accidentals::Accidental;

    fn sharp(step: i32, up: bool, head: Glyph, dots: u8) -> Stack {
        let sign = Accidental { alter: 1, courtesy: false };
        let accidentals = vec![(-1.0, sign, step)];
        Stack { accidentals, dots, ..Stack::single(step, up, head) }
    }

    #[test]
    fn heads_a_second_apart_or_in_unison_stand_side_by_side_unless_they_are_one() {
        let (black, half) = (Glyph::HEAD_BLACK, Glyph::HEAD_HALF);
        let width = black.width();
        for (upper, lower, heads, shift) in [
            (2, 0, (black, half), 0.0),          // a third
            (1, 0, (black, half), width - STEM), // a second: the stems are one line
            (0, 0, (black, half), width - STEM), // a unison of two values
            (0, 0, (black, black), 0.0),         // one head, two stems
            (0, 0, (Glyph::HEAD_WHOLE, Glyph::HEAD_WHOLE), Glyph::HEAD_WHOLE.width()),
            (-2, 0, (black, half), width + CLEARANCE), // crossed
        ] {
            let mut above = sharp(upper, true, heads.0, 0);
            let mut below = sharp(lower, false, heads.1, 0);
            stand_apart(&mut above, &mut below);
            assert!((below.shift - shift).abs() < 1e-5, "{upper} over {lower}: {}", below.shift);
            // Both sharps before both heads, and not one over the other.
            let xs: Vec<f32> = above.accidentals.iter().map(|sign| sign.0).collect();
            assert_eq!((xs.len(), below.accidentals.len()), (2, 0));
            let sharp = Glyph::accidental(1).width();
            assert!(xs.iter().all(|x| x + sharp <= 0.0) && (xs[0] - xs[1]).abs() >= sharp);
        }
    }

    #[test]
    fn dots_of_both_voices_stand_behind_both_heads() {
        let mut above = sharp(1, true, Glyph::HEAD_BLACK, 1);
        let mut below = sharp(0, false, Glyph::HEAD_HALF, 1);
        stand_apart(&mut above, &mut below);
        let end = below.shift + Glyph::HEAD_HALF.width();
        assert!((above.dots_from - end).abs() < 1e-5);
        assert!((below.dots_from + below.shift - end).abs() < 1e-5);
    }
}
