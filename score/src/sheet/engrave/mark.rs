//! What is drawn: signs, lines, beams, ties and words, in staff spaces, with
//! y growing downward.

use super::glyph::Glyph;
use std::f32::consts::TAU;

/// A place on the page, in staff spaces.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[allow(missing_docs, reason = "their names say it")]
pub struct Point {
    pub x: f32,
    pub y: f32,
}

/// Short for a [`Point`].
#[must_use]
pub const fn at(x: f32, y: f32) -> Point {
    Point { x, y }
}

/// What something on the page is, for its colour and weight.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ink {
    /// Staff lines and bar lines.
    Rule,
    /// Everything that is played.
    Music,
    /// Words that are read while playing.
    Word,
    /// Words that are read before or after.
    Aside,
}

/// How words are set.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Face {
    /// Bold with serifs: titles, chord symbols.
    Strong,
    /// Plain.
    Plain,
}

/// Where the anchor of a line of words is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs, reason = "their names say it")]
pub enum Align {
    Left,
    Middle,
    Right,
}

/// One thing on the page.
#[derive(Clone, Debug, PartialEq)]
#[allow(missing_docs, reason = "their names say it")]
pub enum Shape {
    /// A sign of the music font, `scale` times as large as in a staff.
    Glyph { glyph: Glyph, origin: Point, scale: f32 },
    /// A straight line of this width.
    Line { from: Point, to: Point, width: f32 },
    /// A filled quadrilateral: upper left, upper right, lower right, lower left.
    Beam { corners: [Point; 4] },
    /// A curve that swells in the middle; `bulge` is how far it bends, down if
    /// positive.
    Tie { from: Point, to: Point, bulge: f32 },
    /// A wavy line, upright, from its top down: the heads beside it are rolled.
    Roll { top: Point, height: f32 },
    /// Words on a base line, `size` spaces an em.
    Text { text: String, anchor: Point, size: f32, face: Face, align: Align },
}

/// A shape with its ink.
#[derive(Clone, Debug, PartialEq)]
#[allow(missing_docs, reason = "their names say it")]
pub struct Mark {
    pub shape: Shape,
    pub ink: Ink,
}

impl Mark {
    /// The same elsewhere.
    #[must_use]
    pub fn moved(&self, dx: f32, dy: f32) -> Self {
        let to = |p: Point| at(p.x + dx, p.y + dy);
        let shape = match self.shape.clone() {
            Shape::Glyph { glyph, origin, scale } => {
                Shape::Glyph { glyph, origin: to(origin), scale }
            }
            Shape::Line { from, to: end, width } => {
                Shape::Line { from: to(from), to: to(end), width }
            }
            Shape::Beam { corners } => Shape::Beam { corners: corners.map(to) },
            Shape::Tie { from, to: end, bulge } => {
                Shape::Tie { from: to(from), to: to(end), bulge }
            }
            Shape::Roll { top, height } => Shape::Roll { top: to(top), height },
            Shape::Text { text, anchor, size, face, align } => {
                Shape::Text { text, anchor: to(anchor), size, face, align }
            }
        };
        Self { shape, ink: self.ink }
    }
}

/// How wide the line of a roll is, and how far it waves to each side, spaces.
pub const ROLL: f32 = 0.2;
pub(super) const ROLL_WAVE: f32 = 0.22;

/// The points along the line of a roll: a wave for each space.
pub fn roll(top: Point, height: f32) -> impl Iterator<Item = Point> {
    const A_SPACE: f32 = 16.0;
    let count = (height * A_SPACE).round() as u16;
    (0..=count).map(move |n| {
        let down = f32::from(n) / A_SPACE;
        at(top.x + ROLL_WAVE * (down * TAU).sin(), top.y + down)
    })
}

pub(super) fn glyph(glyph: Glyph, origin: Point) -> Mark {
    Mark { shape: Shape::Glyph { glyph, origin, scale: 1.0 }, ink: Ink::Music }
}

pub(super) fn line(from: Point, to: Point, width: f32, ink: Ink) -> Mark {
    Mark { shape: Shape::Line { from, to, width }, ink }
}

pub(super) fn text(text: impl Into<String>, anchor: Point, size: f32, ink: Ink) -> Mark {
    let shape =
        Shape::Text { text: text.into(), anchor, size, face: Face::Plain, align: Align::Middle };
    Mark { shape, ink }
}

pub(super) fn strong(words: impl Into<String>, anchor: Point, size: f32, align: Align) -> Mark {
    let shape = Shape::Text { text: words.into(), anchor, size, face: Face::Strong, align };
    Mark { shape, ink: Ink::Word }
}

/// About how wide words are, in the unit of `size`: enough to keep them apart.
#[must_use]
pub fn words_width(text: &str, size: f32) -> f32 {
    let width = |c: char| match c {
        'i' | 'l' | 'j' | '.' | ',' | '\'' | '|' | ':' | '(' | ')' | ' ' => 0.38,
        'm' | 'M' | 'W' | '\u{2192}' => 0.95,
        c if c.is_uppercase() => 0.76,
        _ => 0.64,
    };
    text.chars().map(width).sum::<f32>() * size
}
