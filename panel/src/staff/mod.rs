//! Paints engraved music: the marks of a system, in the colours of the window.

mod coming;

pub use coming::ComingBars;

use egui::epaint::CubicBezierShape;
use egui::{Align2, Color32, Painter, Pos2, Shape, Stroke, pos2};
use sinistra_score::sheet::engrave::mark::{ROLL, roll};
use sinistra_score::sheet::engrave::{Align, Face, Glyph, Ink, Mark, Point, Shape as Drawn};

use crate::look::{Palette, chord_font, music_font, text_font};

/// Pixels in a space from which on they may be an odd number.
const LARGE: f32 = 14.0;

/// Where music is painted: its origin on the screen and the points in a space.
#[derive(Clone)]
pub struct Easel {
    painter: Painter,
    origin: Pos2,
    space: f32,
    palette: Palette,
}

impl Easel {
    /// `wish` points in a space, made a whole number of pixels, even if small, so
    /// that lines are sharp and heads sit on them.
    pub fn new(painter: Painter, origin: Pos2, wish: f32, palette: Palette) -> Self {
        let pixels = painter.pixels_per_point();
        let round = |points: f32| (points * pixels).round() / pixels;
        let origin = pos2(round(origin.x), round(origin.y));
        Self { painter, origin, space: Self::fitting(wish, pixels), palette }
    }

    /// The points in a space that [`Self::new`] makes of `wish`. Half a pixel is not seen
    /// in large music.
    pub fn fitting(wish: f32, pixels_per_point: f32) -> f32 {
        let pixels = wish * pixels_per_point;
        let even = (pixels / 2.0).floor().max(2.0) * 2.0;
        let whole = if even < LARGE { even } else { pixels.floor() };
        whole / pixels_per_point
    }

    /// The same, `dy` spaces lower.
    #[must_use]
    pub fn lower(&self, dy: f32) -> Self {
        let origin = pos2(self.origin.x, self.origin.y + (dy * 2.0).round() / 2.0 * self.space);
        Self { origin, ..self.clone() }
    }

    /// A place on the screen.
    pub fn at(&self, x: f32, y: f32) -> Pos2 {
        pos2(self.origin.x + x * self.space, self.origin.y + y * self.space)
    }

    /// Points in a space.
    pub const fn space(&self) -> f32 {
        self.space
    }

    /// For what is painted beside the music.
    pub const fn painter(&self) -> &Painter {
        &self.painter
    }

    /// Paints marks; `fade` from 0 (as they are) to 1 (gone).
    pub fn paint(&self, marks: &[Mark], fade: f32) {
        marks
            .iter()
            .for_each(|mark| self.mark(mark, self.ink(mark.ink).gamma_multiply(1.0 - fade)));
    }

    /// Paints music in a colour of its own, rules and words as always.
    pub fn paint_music(&self, marks: &[Mark], music: Color32) {
        for mark in marks {
            let colour = if mark.ink == Ink::Music { music } else { self.ink(mark.ink) };
            self.mark(mark, colour);
        }
    }

    const fn ink(&self, ink: Ink) -> Color32 {
        match ink {
            Ink::Rule | Ink::Aside => self.palette.faint,
            Ink::Music | Ink::Word => self.palette.ink,
        }
    }

    fn point(&self, p: &Point) -> Pos2 {
        self.at(p.x, p.y)
    }

    fn mark(&self, mark: &Mark, colour: Color32) {
        match &mark.shape {
            Drawn::Glyph { glyph, origin, scale } => {
                self.glyph(*glyph, self.point(origin), *scale, colour);
            }
            Drawn::Line { from, to, width } => self.line(from, to, *width, colour),
            Drawn::Beam { corners } => {
                let corners = corners.iter().map(|corner| self.point(corner)).collect();
                self.painter.add(Shape::convex_polygon(corners, colour, Stroke::NONE));
            }
            Drawn::Tie { from, to, bulge } => self.tie(from, to, *bulge, colour),
            Drawn::Roll { top, height } => {
                let points = roll(*top, *height).map(|p| self.point(&p)).collect();
                self.painter.line(points, Stroke::new((ROLL * self.space).max(1.0), colour));
            }
            Drawn::Text { text, anchor, size, face, align } => {
                let size = size * self.space;
                let font = match face {
                    Face::Strong => chord_font(size),
                    Face::Plain => text_font(size),
                };
                let galley = self.painter.layout_no_wrap(text.clone(), font, colour);
                let shift = match align {
                    Align::Left => 0.0,
                    Align::Middle => galley.size().x / 2.0,
                    Align::Right => galley.size().x,
                };
                let base = galley.rows.first().map_or(0.0, |row| {
                    row.pos.y + row.row.glyphs.first().map_or(0.0, |glyph| glyph.pos.y)
                });
                let anchor = self.point(anchor);
                self.painter.galley(pos2(anchor.x - shift, anchor.y - base), galley, colour);
            }
        }
    }

    fn glyph(&self, glyph: Glyph, origin: Pos2, scale: f32, colour: Color32) {
        // An em of a music font is four spaces (SMuFL 1.4).
        let font = music_font(4.0 * self.space * scale);
        let galley = self.painter.layout_no_wrap(glyph.0.to_string(), font, colour);
        let base = galley
            .rows
            .first()
            .map_or(0.0, |row| row.pos.y + row.row.glyphs.first().map_or(0.0, |glyph| glyph.pos.y));
        self.painter.galley(pos2(origin.x, origin.y - base), galley, colour);
    }

    /// Upright and level lines are whole pixels wide, and sharp.
    fn line(&self, from: &Point, to: &Point, width: f32, colour: Color32) {
        let pixels = self.painter.pixels_per_point();
        let (mut a, mut b) = (self.point(from), self.point(to));
        let width = (width * self.space * pixels).round().max(1.0) / pixels;
        let centre = |middle: f32| ((middle - width / 2.0) * pixels).round() / pixels + width / 2.0;
        if (a.y - b.y).abs() < 0.01 {
            (a.y, b.y) = (centre(a.y), centre(b.y));
        } else if (a.x - b.x).abs() < 0.01 {
            (a.x, b.x) = (centre(a.x), centre(b.x));
        }
        self.painter.line_segment([a, b], Stroke::new(width, colour));
    }

    fn tie(&self, from: &Point, to: &Point, bulge: f32, colour: Color32) {
        let inset = (to.x - from.x) * 0.25;
        // Outer and inner edge, 0.2 spaces apart in the middle; a cubic curve
        // reaches three quarters of the way to its control points.
        for part in [0.0, 0.1, 0.2] {
            let depth = (bulge - part * bulge.signum()) / 0.75;
            let points = [
                self.point(from),
                self.at(from.x + inset, from.y + depth),
                self.at(to.x - inset, to.y + depth),
                self.point(to),
            ];
            let stroke = Stroke::new((0.11 * self.space).max(0.8), colour);
            let shape =
                CubicBezierShape::from_points_stroke(points, false, Color32::TRANSPARENT, stroke);
            self.painter.add(shape);
        }
    }

    /// Words beside the music, centred on a place in spaces.
    pub fn words(&self, x: f32, y: f32, text: impl ToString, size: f32, colour: Color32) {
        let font = text_font(size * self.space);
        self.painter.text(self.at(x, y), Align2::CENTER_CENTER, text, font, colour);
    }
}
