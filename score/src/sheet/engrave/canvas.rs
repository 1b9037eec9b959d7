//! A place to draw on that knows how high and low it was drawn on.

use super::glyph::Glyph;
use super::mark::{Mark, Shape};

/// Marks and their extent.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Canvas {
    pub marks: Vec<Mark>,
    pub top: f32,
    pub bottom: f32,
}

impl Canvas {
    /// Empty, but taken to reach from `top` to `bottom`.
    pub const fn new(top: f32, bottom: f32) -> Self {
        Self { marks: Vec::new(), top, bottom }
    }

    pub fn push(&mut self, mark: Mark) {
        let (top, bottom) = extent(&mark.shape);
        self.top = self.top.min(top);
        self.bottom = self.bottom.max(bottom);
        self.marks.push(mark);
    }

    pub fn extend(&mut self, marks: impl IntoIterator<Item = Mark>) {
        marks.into_iter().for_each(|mark| self.push(mark));
    }
}

/// The highest and lowest y of a shape.
pub(super) fn extent(shape: &Shape) -> (f32, f32) {
    match shape {
        Shape::Glyph { glyph, origin, scale } => {
            let (above, below) = reach(*glyph);
            (origin.y - above * scale, origin.y + below * scale)
        }
        Shape::Line { from, to, .. } => (from.y.min(to.y), from.y.max(to.y)),
        Shape::Beam { corners } => {
            let ys = corners.iter().map(|corner| corner.y);
            ys.fold((f32::MAX, f32::MIN), |(low, high), y| (low.min(y), high.max(y)))
        }
        Shape::Tie { from, to, bulge } => {
            let (low, high) = (from.y.min(to.y), from.y.max(to.y));
            (low.min(low + bulge), high.max(high + bulge))
        }
        Shape::Roll { top, height } => (top.y, top.y + height),
        Shape::Text { anchor, size, .. } => (anchor.y - size * 0.75, anchor.y + size * 0.2),
    }
}

/// How far a sign reaches above and below its origin, spaces (Bravura 1.392,
/// `glyphBBoxes`, rounded up).
const fn reach(glyph: Glyph) -> (f32, f32) {
    match glyph {
        Glyph::TREBLE_CLEF => (4.4, 2.7),
        Glyph::BASS_CLEF => (1.1, 2.6),
        Glyph::HEAD_BREVE
        | Glyph::HEAD_WHOLE
        | Glyph::HEAD_HALF
        | Glyph::HEAD_BLACK
        | Glyph::HEAD_CROSS => (0.5, 0.5),
        Glyph('\u{E260}' | '\u{E264}') => (1.8, 0.7),
        Glyph('\u{E261}'..='\u{E263}') | Glyph::REST_QUARTER => (1.4, 1.4),
        Glyph('\u{E240}' | '\u{E242}') => (0.1, 3.3),
        Glyph('\u{E241}' | '\u{E243}') => (3.3, 0.1),
        Glyph::REST_16TH => (0.8, 2.0),
        Glyph::DOT | Glyph::REPEAT_DOT => (0.2, 0.2),
        Glyph::TEMPO_QUARTER => (2.8, 0.6),
        _ => (1.0, 1.0),
    }
}
