//! Pages of A4: the title, systems one under the other, the legend.

use super::super::lines::line_breaks;
use super::super::roles::LEGEND;
use super::glyph::Glyph;
use super::mark::{Align, Face, Ink, Mark, Shape, at, strong};
use super::{EngraveOptions, Engraver, StaffSystem};
use crate::sheet::Sheet;

/// Millimetres in a space: staves 7 mm high, as in the MusicXML sheet.
pub const MM: f32 = 1.75;
/// A4 upright, in spaces (ISO 216: 210 × 297 mm).
const WIDTH: f32 = 210.0 / MM;
const HEIGHT: f32 = 297.0 / MM;
const MARGIN: f32 = 14.0 / MM;
/// Between two systems, and before the first.
const BETWEEN: f32 = 3.5;
/// What the title takes on the first page.
const TITLE: f32 = 12.0;
const FOOT: f32 = 4.0;
/// A last line shorter than this part of the page is not stretched to it.
const RAGGED: f32 = 0.8;

/// One page, in spaces from its upper left corner.
#[derive(Clone, Debug, PartialEq)]
pub struct Page {
    /// Spaces.
    pub width: f32,
    /// Spaces.
    pub height: f32,
    /// Everything on it.
    pub marks: Vec<Mark>,
}

/// Lays a sheet out on pages; at least one.
#[must_use]
pub fn pages(sheet: &Sheet, options: &EngraveOptions) -> Vec<Page> {
    let engraver = Engraver::new(sheet);
    let blank = || Page { width: WIDTH, height: HEIGHT, marks: Vec::new() };
    let mut pages = vec![blank()];
    let mut y = MARGIN + TITLE;
    if let Some(page) = pages.last_mut() {
        head(sheet, page);
    }
    for system in systems(&engraver, options) {
        let height = system.bottom - system.top;
        if y + height > HEIGHT - MARGIN - FOOT {
            pages.push(blank());
            y = MARGIN + BETWEEN;
        }
        if let Some(page) = pages.last_mut() {
            page.marks.extend(system.marks.iter().map(|mark| mark.moved(MARGIN, y - system.top)));
        }
        y += height + BETWEEN;
    }
    let count = pages.len();
    for (n, page) in pages.iter_mut().enumerate() {
        foot(n, count, page);
    }
    pages
}

fn systems(engraver: &Engraver, options: &EngraveOptions) -> Vec<StaffSystem> {
    let width = WIDTH - 2.0 * MARGIN;
    let sheet = engraver.sheet();
    let mut strikes: Vec<i64> = sheet.left.iter().map(|note| note.at.0).collect();
    strikes.sort_unstable();
    strikes.dedup();
    let mut starts = vec![0];
    starts.extend(line_breaks(sheet, &strikes));
    let ends = starts.iter().skip(1).copied().chain([sheet.bars.len()]);
    let mut systems = Vec::new();
    for (from, to) in starts.iter().copied().zip(ends) {
        // A line that is too full even so is broken once more.
        let mut from = from;
        while from < to {
            let mut end = to;
            while end > from + 1 && engraver.system(from..end, None, options).width > width * 1.02 {
                end -= 1;
            }
            let last = end == sheet.bars.len();
            let natural = engraver.system(from..end, None, options).width;
            let given = if last && natural < width * RAGGED { natural * 1.15 } else { width };
            systems.push(engraver.system(from..end, Some(given.min(width)), options));
            from = end;
        }
    }
    systems
}

fn head(sheet: &Sheet, page: &mut Page) {
    let middle = page.width / 2.0;
    page.marks.push(strong(sheet.title.clone(), at(middle, MARGIN + 3.2), 4.2, Align::Middle));
    let plain = |words: String, x: f32, y: f32, size: f32, align: Align| {
        let anchor = at(x, MARGIN + y);
        let shape = Shape::Text { text: words, anchor, size, face: Face::Plain, align };
        Mark { shape, ink: Ink::Word }
    };
    page.marks.push(plain(sheet.pattern.clone(), middle, 6.2, 2.3, Align::Middle));
    let compound = sheet.bars.first().is_some_and(|bar| bar.metre.is_compound());
    let felt = if compound { sheet.tempo / 1.5 } else { sheet.tempo };
    let mut x = MARGIN;
    let mut sign = |glyph: Glyph, x: &mut f32| {
        let origin = at(*x, MARGIN + 9.0);
        let shape = Shape::Glyph { glyph, origin, scale: 0.75 };
        page.marks.push(Mark { shape, ink: Ink::Music });
        *x += glyph.width() * 0.75;
    };
    sign(Glyph::TEMPO_QUARTER, &mut x);
    if compound {
        x += 0.2;
        sign(Glyph::TEMPO_DOT, &mut x);
    }
    let swing = if sheet.swing > 50 { ", swing the eighths: long\u{2013}short" } else { "" };
    let tempo = format!("= {felt:.0}{swing}");
    page.marks.push(plain(tempo, x + 0.5, 9.2, 2.0, Align::Left));
}

fn foot(number: usize, count: usize, page: &mut Page) {
    let (middle, y) = (page.width / 2.0, page.height - MARGIN);
    let mut say = |words: String, y: f32| {
        let shape = Shape::Text {
            text: words,
            anchor: at(middle, y),
            size: 1.45,
            face: Face::Plain,
            align: Align::Middle,
        };
        page.marks.push(Mark { shape, ink: Ink::Aside });
    };
    if number == 0 {
        let (under, fingers) = LEGEND.split_once(". ").unwrap_or((LEGEND, ""));
        say(format!("{under}."), y - 2.2);
        say(fingers.to_owned(), y - 0.2);
    }
    if count > 1 {
        say(format!("{} / {count}", number + 1), y + 2.2);
    }
}
