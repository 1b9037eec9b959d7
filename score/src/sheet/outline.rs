//! Signs of the music font as paths.

use std::fmt::Write;

use super::engrave::Glyph;
use ttf_parser::{Face, OutlineBuilder};

/// The signs of the staff; the windows paint with the same.
const MUSIC_FONT: &[u8] = include_bytes!("../../../panel/fonts/SinistraNotation.otf");

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

    /// The outline of a sign in staff spaces, as the data of an SVG path.
    pub fn path(&self, glyph: Glyph) -> Option<String> {
        let face = self.face.as_ref()?;
        let index = face.glyph_index(glyph.0)?;
        let scale = SPACES_AN_EM / f32::from(face.units_per_em());
        let mut pen = Pen { path: String::new(), scale };
        face.outline_glyph(index, &mut pen)?;
        Some(pen.path)
    }
}

/// Writes path data, y downward.
struct Pen {
    path: String,
    scale: f32,
}

impl Pen {
    fn put(&mut self, command: char, points: &[(f32, f32)]) {
        self.path.push(command);
        for (n, (x, y)) in points.iter().enumerate() {
            let space = if n > 0 { " " } else { "" };
            let (x, y) = (x * self.scale, -y * self.scale);
            let _ = write!(self.path, "{space}{} {}", short(x), short(y));
        }
    }
}

/// A thousandth of a space is finer than any printer.
pub fn short(value: f32) -> String {
    let text = format!("{value:.3}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".into() } else { text.into() }
}

impl OutlineBuilder for Pen {
    fn move_to(&mut self, x: f32, y: f32) {
        self.put('M', &[(x, y)]);
    }
    fn line_to(&mut self, x: f32, y: f32) {
        self.put('L', &[(x, y)]);
    }
    fn quad_to(&mut self, x1: f32, y1: f32, x: f32, y: f32) {
        self.put('Q', &[(x1, y1), (x, y)]);
    }
    fn curve_to(&mut self, x1: f32, y1: f32, x2: f32, y2: f32, x: f32, y: f32) {
        self.put('C', &[(x1, y1), (x2, y2), (x, y)]);
    }
    fn close(&mut self) {
        self.path.push('Z');
    }
}
