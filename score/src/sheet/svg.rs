//! A page as SVG 1.1: signs as paths, so that no music font is needed.

use std::collections::BTreeSet;
use std::fmt::Write;

use super::engrave::mark::{ROLL, roll};
use super::engrave::{Align, Face, Glyph, Ink, Mark, Page, Point, Shape};
use super::outline::{Font, short, svg_path, tie};
use super::xml::escape;

const STRONG: &str = "font-family=\"DejaVu Serif, Georgia, Times New Roman, serif\" \
                      font-weight=\"bold\"";
const PLAIN: &str = "font-family=\"DejaVu Sans, Arial, Helvetica, sans-serif\"";

/// The document of one page.
pub fn page(page: &Page, title: &str) -> String {
    let font = Font::open();
    let mut svg = String::new();
    let (width, height) = (short(page.width * page.mm), short(page.height * page.mm));
    let _ = writeln!(
        svg,
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n\
         <svg xmlns=\"http://www.w3.org/2000/svg\" xmlns:xlink=\"http://www.w3.org/1999/xlink\" \
         version=\"1.1\" width=\"{width}mm\" height=\"{height}mm\" viewBox=\"0 0 {} {}\">\n\
         <title>{}</title>\n<rect width=\"100%\" height=\"100%\" fill=\"#fff\"/>\n<defs>",
        short(page.width),
        short(page.height),
        escaped(title)
    );
    for glyph in signs(page) {
        if let Some(outline) = font.outline(Glyph(glyph)) {
            let path = svg_path(&outline);
            let _ = writeln!(svg, "<path id=\"{}\" d=\"{path}\"/>", id(Glyph(glyph)));
        }
    }
    svg.push_str("</defs>\n<g fill=\"#000\" stroke=\"none\">\n");
    for mark in &page.marks {
        put(&mut svg, mark);
    }
    svg.push_str("</g>\n</svg>\n");
    svg
}

fn signs(page: &Page) -> BTreeSet<char> {
    let sign = |mark: &Mark| match mark.shape {
        Shape::Glyph { glyph, .. } => Some(glyph.0),
        _ => None,
    };
    page.marks.iter().filter_map(sign).collect()
}

fn id(glyph: Glyph) -> String {
    format!("u{:X}", u32::from(glyph.0))
}

fn put(svg: &mut String, mark: &Mark) {
    let xy = |p: &Point| format!("{} {}", short(p.x), short(p.y));
    let _ = match &mark.shape {
        Shape::Glyph { glyph, origin, scale } => {
            let size = if (*scale - 1.0).abs() < 1e-6 {
                String::new()
            } else {
                format!(" scale({})", short(*scale))
            };
            let id = id(*glyph);
            writeln!(
                svg,
                "<use xlink:href=\"#{id}\" transform=\"translate({}){size}\"/>",
                xy(origin)
            )
        }
        Shape::Line { from, to, width } => writeln!(
            svg,
            "<path d=\"M{}L{}\" stroke=\"#000\" stroke-width=\"{}\"/>",
            xy(from),
            xy(to),
            short(*width)
        ),
        Shape::Beam { corners: [a, b, c, d] } => {
            writeln!(svg, "<path d=\"M{}L{}L{}L{}Z\"/>", xy(a), xy(b), xy(c), xy(d))
        }
        Shape::Tie { from, to, bulge } => {
            writeln!(svg, "<path d=\"{}\"/>", svg_path(&tie(*from, *to, *bulge)))
        }
        Shape::Roll { top, height } => {
            let points: Vec<String> = roll(*top, *height).map(|p| xy(&p)).collect();
            writeln!(
                svg,
                "<path d=\"M{}\" fill=\"none\" stroke=\"#000\" stroke-width=\"{}\"/>",
                points.join("L"),
                short(ROLL)
            )
        }
        Shape::Text { text, anchor, size, face, align } => {
            let font = if *face == Face::Strong { STRONG } else { PLAIN };
            let anchored = match align {
                Align::Left => "start",
                Align::Middle => "middle",
                Align::Right => "end",
            };
            let grey = if mark.ink == Ink::Aside { " fill=\"#333\"" } else { "" };
            writeln!(
                svg,
                "<text x=\"{}\" y=\"{}\" font-size=\"{}\" text-anchor=\"{anchored}\" {font}{grey}>{}</text>",
                short(anchor.x),
                short(anchor.y),
                short(*size),
                escaped(text)
            )
        }
    };
}

fn escaped(text: &str) -> String {
    let mut out = String::new();
    escape(text, &mut out);
    out
}
