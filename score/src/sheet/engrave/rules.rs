//! Staff lines, bar lines, repeats and the brace.

use super::canvas::Canvas;
use super::glyph::{BAR_GAP, Glyph, STAFF_LINE, THICK_BAR, THIN_BAR};
use super::mark::{Align, Face, Ink, Mark, Shape, at, glyph, line};
use crate::sheet::{SheetBar, Volta};

/// How much room a repeat's start takes.
pub(super) const REPEAT: f32 = THICK_BAR + BAR_GAP + THIN_BAR + BAR_GAP + 0.4 + 0.4;

/// The five lines of a staff.
pub(super) fn staff(from: f32, to: f32, top: f32, canvas: &mut Canvas) {
    for n in 0..5_u8 {
        let y = top + f32::from(n);
        canvas.push(line(at(from, y), at(to, y), STAFF_LINE, Ink::Rule));
    }
}

/// Through all staves, whose top lines are `tops`.
pub(super) fn through(x: f32, width: f32, tops: &[f32], canvas: &mut Canvas) {
    if let (Some(top), Some(bottom)) = (tops.first(), tops.last()) {
        let half = STAFF_LINE / 2.0;
        canvas.push(line(at(x, top - half), at(x, bottom + 4.0 + half), width, Ink::Rule));
    }
}

/// The start of a system of several staves: a line and a brace.
pub(super) fn brace(x: f32, tops: &[f32], canvas: &mut Canvas) {
    let (Some(top), Some(bottom)) = (tops.first(), tops.last()) else { return };
    through(x + THIN_BAR / 2.0, THIN_BAR, tops, canvas);
    let height = bottom + 4.0 - top;
    let scale = height / 3.988; // the brace is four spaces high
    let origin = at(x - 0.25 - Glyph::BRACE.width() * scale, bottom + 4.0);
    let shape = Shape::Glyph { glyph: Glyph::BRACE, origin, scale };
    canvas.marks.push(Mark { shape, ink: Ink::Music });
}

/// The bar line that ends at `x`, of a bar or of the piece.
pub(super) fn closing(x: f32, bar: &SheetBar, last: bool, tops: &[f32], canvas: &mut Canvas) {
    if bar.repeat_times.is_none() && !last {
        through(x - THIN_BAR / 2.0, THIN_BAR, tops, canvas);
        return;
    }
    through(x - THICK_BAR / 2.0, THICK_BAR, tops, canvas);
    let thin = x - THICK_BAR - BAR_GAP;
    through(thin - THIN_BAR / 2.0, THIN_BAR, tops, canvas);
    if bar.repeat_times.is_some() {
        dots(thin - THIN_BAR - BAR_GAP - Glyph::REPEAT_DOT.width(), tops, canvas);
    }
}

/// How much room the bar line after the last column needs.
pub(super) const fn closing_width(bar: &SheetBar, last: bool) -> f32 {
    match (bar.repeat_times.is_some(), last) {
        (true, _) => REPEAT,
        (false, true) => THICK_BAR + BAR_GAP + THIN_BAR,
        (false, false) => THIN_BAR,
    }
}

/// The start of a repeat at `x`.
pub(super) fn repeat_from(x: f32, tops: &[f32], canvas: &mut Canvas) {
    through(x + THICK_BAR / 2.0, THICK_BAR, tops, canvas);
    let thin = x + THICK_BAR + BAR_GAP;
    through(thin + THIN_BAR / 2.0, THIN_BAR, tops, canvas);
    dots(thin + THIN_BAR + BAR_GAP, tops, canvas);
}

fn dots(x: f32, tops: &[f32], canvas: &mut Canvas) {
    for top in tops {
        for y in [1.5, 2.5] {
            canvas.push(glyph(Glyph::REPEAT_DOT, at(x, top + y)));
        }
    }
}

/// The bracket over an ending, at `y`.
pub(super) fn ending(ending: &Volta, (from, to): (f32, f32), y: f32, canvas: &mut Canvas) {
    let mut draw = |a, b| canvas.push(line(a, b, THIN_BAR, Ink::Music));
    let from = from + 0.3;
    draw(at(from, y), at(to, y));
    if ending.starts {
        draw(at(from, y), at(from, y + 1.8));
    }
    if ending.stops {
        draw(at(to - 0.1, y), at(to - 0.1, y + 1.8));
    }
    if ending.starts {
        let numbers: Vec<String> = ending.passes.iter().map(|pass| format!("{pass}.")).collect();
        let shape = Shape::Text {
            text: numbers.join(" "),
            anchor: at(from + 0.5, y + 1.7),
            size: 1.6,
            face: Face::Plain,
            align: Align::Left,
        };
        canvas.push(Mark { shape, ink: Ink::Word });
    }
}
