//! Pages as one PDF: fonts inside it, its text text.

use krilla::Document;
use krilla::color::luma;
use krilla::geom::{Path, PathBuilder, Point as PdfPoint};
use krilla::metadata::Metadata;
use krilla::num::NormalizedF32;
use krilla::page::PageSettings;
use krilla::paint::{Fill, Stroke};
use krilla::surface::Surface;
use krilla::text::{Font as PdfFont, TextDirection};
use sinistra_score::sheet::engrave::mark::{ROLL, roll};
use sinistra_score::sheet::engrave::{Align, Face, Ink, Mark, Page, Point, Shape};
use sinistra_score::sheet::outline::{Font, Segment, tie};

use crate::failure::Failure;

/// Points of a PDF in a millimetre (ISO 32000-1, 8.3.2.3).
const POINTS_A_MM: f32 = 72.0 / 25.4;

/// The same that the windows are set in.
const PLAIN: &[u8] = include_bytes!("../../../panel/fonts/DejaVuSans-subset.ttf");
const STRONG: &[u8] = include_bytes!("../../../panel/fonts/DejaVuSerif-Bold-subset.ttf");

/// The document. The same pages make the same bytes.
///
/// # Errors
/// If the document cannot be put together; not for any page that we know of.
pub fn document(title: &str, about: &str, pages: &[Page]) -> Result<Vec<u8>, Failure> {
    let failed = |why: &str| Failure::Machine(format!("the PDF could not be made: {why}"));
    let font = |bytes: &'static [u8]| {
        PdfFont::new(bytes.into(), 0).ok_or_else(|| failed("a font cannot be read"))
    };
    let fonts = Fonts { plain: font(PLAIN)?, strong: font(STRONG)?, signs: Font::open() };
    let mut document = Document::new();
    document.set_metadata(
        Metadata::new()
            .title(title.to_owned())
            .description(about.to_owned())
            .creator(concat!("Sinistra ", env!("CARGO_PKG_VERSION")).into())
            .language("en".into()),
    );
    for page in pages {
        let scale = page.mm * POINTS_A_MM;
        let size = PageSettings::from_wh(page.width * scale, page.height * scale);
        let mut paper = document.start_page_with(size.ok_or_else(|| failed("an empty page"))?);
        let mut surface = paper.surface();
        for mark in &page.marks {
            put(&mut surface, mark, scale, &fonts);
        }
        surface.finish();
        paper.finish();
    }
    document.finish().map_err(|why| failed(&format!("{why:?}")))
}

struct Fonts {
    plain: PdfFont,
    strong: PdfFont,
    signs: Font,
}

fn put(surface: &mut Surface<'_>, mark: &Mark, scale: f32, fonts: &Fonts) {
    let grey = if mark.ink == Ink::Aside { 0x33 } else { 0 };
    let ink = luma::Color::new(grey);
    let fill = Fill { paint: ink.into(), opacity: NormalizedF32::ONE, ..Fill::default() };
    let at = |p: Point| (p.x * scale, p.y * scale);
    let rule = |width, surface: &mut Surface<'_>| {
        surface.set_fill(None);
        surface.set_stroke(Some(Stroke { paint: ink.into(), width, ..Stroke::default() }));
    };
    surface.set_stroke(None);
    surface.set_fill(Some(fill));
    match &mark.shape {
        Shape::Glyph { glyph, origin, scale: size } => {
            let outline = fonts.signs.outline(*glyph).unwrap_or_default();
            let placed =
                |p: Point| at(Point { x: origin.x + p.x * size, y: origin.y + p.y * size });
            draw(surface, &outline, placed);
        }
        Shape::Line { from, to, width } => {
            rule(width * scale, surface);
            draw(surface, &[Segment::Move(*from), Segment::Line(*to)], at);
        }
        Shape::Roll { top, height } => {
            rule(ROLL * scale, surface);
            let line: Vec<Segment> = roll(*top, *height).map(Segment::Line).collect();
            draw(surface, &[&[Segment::Move(*top)], &line[..]].concat(), at);
        }
        Shape::Beam { corners: [a, b, c, d] } => {
            let line = [b, c, d].map(|p| Segment::Line(*p));
            draw(surface, &[&[Segment::Move(*a)], &line[..], &[Segment::Close]].concat(), at);
        }
        Shape::Tie { from, to, bulge } => draw(surface, &tie(*from, *to, *bulge), at),
        Shape::Text { text, anchor, size, face, align } => {
            let (font, bytes) = match face {
                Face::Strong => (&fonts.strong, STRONG),
                Face::Plain => (&fonts.plain, PLAIN),
            };
            let size = size * scale;
            let wide = width(bytes, text) * size;
            let (x, y) = at(*anchor);
            let x = match align {
                Align::Left => x,
                Align::Middle => x - wide / 2.0,
                Align::Right => x - wide,
            };
            let start = PdfPoint::from_xy(x, y);
            surface.draw_text(start, font.clone(), size, text, false, TextDirection::LeftToRight);
        }
    }
}

fn draw(surface: &mut Surface<'_>, outline: &[Segment], at: impl Fn(Point) -> (f32, f32)) {
    if let Some(path) = path(outline, at) {
        surface.draw_path(&path);
    }
}

fn path(outline: &[Segment], at: impl Fn(Point) -> (f32, f32)) -> Option<Path> {
    let mut builder = PathBuilder::new();
    for segment in outline {
        match *segment {
            Segment::Move(p) => {
                let (x, y) = at(p);
                builder.move_to(x, y);
            }
            Segment::Line(p) => {
                let (x, y) = at(p);
                builder.line_to(x, y);
            }
            Segment::Quad(a, p) => {
                let ((ax, ay), (x, y)) = (at(a), at(p));
                builder.quad_to(ax, ay, x, y);
            }
            Segment::Cubic(a, b, p) => {
                let ((ax, ay), (bx, by), (x, y)) = (at(a), at(b), at(p));
                builder.cubic_to(ax, ay, bx, by, x, y);
            }
            Segment::Close => builder.close(),
        }
    }
    builder.finish()
}

/// How wide words are in this font, in ems.
fn width(font: &[u8], text: &str) -> f32 {
    let Ok(face) = ttf_parser::Face::parse(font, 0) else { return 0.0 };
    let units = f32::from(face.units_per_em());
    let advance = |c: char| {
        let glyph = face.glyph_index(c).unwrap_or_default();
        f32::from(face.glyph_hor_advance(glyph).unwrap_or(0)) / units
    };
    text.chars().map(advance).sum()
}
