//! Outlines: signs of the music font and ties as lines and curves, for whatever
//! writes pages.

use std::fmt::Write;

use super::engrave::{Glyph, Point};
use ttf_parser::{Face, OutlineBuilder};

/// The signs of the staff; the windows paint with the same.
const MUSIC_FONT: &[u8] = include_bytes!("../../../panel/fonts/SinistraNotation.otf");

/// A piece of an outline that is to be filled, y downward.
#[derive(Clone, Copy, Debug, PartialEq)]
#[allow(missing_docs, reason = "their names say it")]
pub enum Segment {
    Move(Point),
    Line(Point),
    /// A curve over one control point to its end.
    Quad(Point, Point),
    /// A curve over two control points to its end.
    Cubic(Point, Point, Point),
    Close,
}

/// The music font, open.
pub struct Font {
    face: Option<Face<'static>>,
}

/// An em is four staff spaces (SMuFL 1.4).
const SPACES_AN_EM: f32 = 4.0;

impl Font {
    /// The one that ships.
    pub fn open() -> Self {
        Self { face: Face::parse(MUSIC_FONT, 0).ok() }
    }

    /// The outline of a sign in staff spaces, around its origin.
    pub fn outline(&self, glyph: Glyph) -> Option<Vec<Segment>> {
        let face = self.face.as_ref()?;
        let index = face.glyph_index(glyph.0)?;
        let scale = SPACES_AN_EM / f32::from(face.units_per_em());
        let mut pen = Pen { segments: Vec::new(), scale };
        face.outline_glyph(index, &mut pen)?;
        Some(pen.segments)
    }
}

/// A tie: two curves, thin at the ends and 0.22 spaces thick in the middle
/// (Bravura's `tieMidpointThickness`); `bulge` is how far it bends.
pub fn tie(from: Point, to: Point, bulge: f32) -> Vec<Segment> {
    let inset = (to.x - from.x) * 0.25;
    // A cubic curve reaches three quarters of the way to its control points.
    let deep = |by: f32| (bulge + by * bulge.signum()) / 0.75;
    let curve = |a: Point, b: Point, side: f32, depth: f32| {
        let over = |p: Point, dx: f32| Point { x: p.x + dx, y: p.y + depth };
        Segment::Cubic(over(a, inset * side), over(b, -inset * side), b)
    };
    vec![
        Segment::Move(from),
        curve(from, to, 1.0, deep(0.0)),
        curve(to, from, -1.0, deep(-0.22)),
        Segment::Close,
    ]
}

/// As the data of an SVG path.
pub fn svg_path(segments: &[Segment]) -> String {
    let mut path = String::new();
    let mut put = |command: char, points: &[Point]| {
        path.push(command);
        for (n, p) in points.iter().enumerate() {
            let space = if n > 0 { " " } else { "" };
            let _ = write!(path, "{space}{} {}", short(p.x), short(p.y));
        }
    };
    for segment in segments {
        match *segment {
            Segment::Move(p) => put('M', &[p]),
            Segment::Line(p) => put('L', &[p]),
            Segment::Quad(a, p) => put('Q', &[a, p]),
            Segment::Cubic(a, b, p) => put('C', &[a, b, p]),
            Segment::Close => put('Z', &[]),
        }
    }
    path
}

/// A thousandth of a space is finer than any printer.
pub fn short(value: f32) -> String {
    let text = format!("{value:.3}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".into() } else { text.into() }
}

/// Takes an outline from the font, and turns it upside down.
struct Pen {
    segments: Vec<Segment>,
    scale: f32,
}

impl Pen {
    fn at(&self, x: f32, y: f32) -> Point {
        Point { x: x * self.scale, y: -y * self.scale }
    }
}

impl OutlineBuilder for Pen {
    fn move_to(&mut self, x: f32, y: f32) {
        self.segments.push(Segment::Move(self.at(x, y)));
    }
    fn line_to(&mut self, x: f32, y: f32) {
        self.segments.push(Segment::Line(self.at(x, y)));
    }
    fn quad_to(&mut self, x1: f32, y1: f32, x: f32, y: f32) {
        self.segments.push(Segment::Quad(self.at(x1, y1), self.at(x, y)));
    }
    fn curve_to(&mut self, x1: f32, y1: f32, x2: f32, y2: f32, x: f32, y: f32) {
        self.segments.push(Segment::Cubic(self.at(x1, y1), self.at(x2, y2), self.at(x, y)));
    }
    fn close(&mut self) {
        self.segments.push(Segment::Close);
    }
}
