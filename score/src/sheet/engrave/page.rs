//! Pages of paper: the title, systems one under the other, the legend.

use super::super::lines::{BarWidth, LineRoom, line_breaks};
use super::glyph::Glyph;
use super::mark::{Align, Face, Ink, Mark, Shape, at, strong, words_width};
use super::{EngraveOptions, Engraver, StaffSystem, signature};
use crate::sheet::Sheet;
use crate::wording::LEGEND;

/// What paper a sheet is printed on.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Paper {
    /// ISO 216: 210 by 297 mm.
    #[default]
    A4,
    /// ANSI Y14.1 size A: 8.5 by 11 inches.
    Letter,
}

impl Paper {
    /// Width and height upright, in millimetres.
    #[must_use]
    pub const fn size_mm(self) -> (f32, f32) {
        match self {
            Self::A4 => (210.0, 297.0),
            Self::Letter => (215.9, 279.4),
        }
    }
}

/// How a sheet is laid out on pages.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Layout {
    /// What of it is drawn.
    pub options: EngraveOptions,
    /// On what.
    pub paper: Paper,
    /// Half as large again, for eyes that need it.
    pub large: bool,
}

impl Layout {
    /// Both hands with everything, on A4.
    pub const ALL: Self = Self { options: EngraveOptions::ALL, paper: Paper::A4, large: false };
}

/// Millimetres in a space. Staves of piano music are 6 to 7 mm high (E. Gould,
/// "Behind Bars", 2011, from memory).
const MM: f32 = 1.6;
/// The same in large print.
const LARGE_MM: f32 = 2.4;
const MARGIN_MM: f32 = 12.0;
/// The most bars on a line: a phrase.
const BARS: usize = 4;
/// Between two systems, and before the first: at least and at most.
const BETWEEN: f32 = 2.0;
const APART: f32 = 14.0;
const FOOT: f32 = 5.0;
/// A last line shorter than this part of the page is not stretched to it.
const RAGGED: f32 = 0.8;
/// The size of a title, and of one that is longer than a line; from line to line it
/// is a little more.
const TITLE: f32 = 4.2;
const LONG_TITLE: f32 = 3.0;
const LEADING: f32 = 1.15;
/// Left free beside the title, for a code or a teacher's hand.
const BESIDE: f32 = 17.0;
/// A title has at most so many lines.
const TITLE_LINES: usize = 4;

/// One page, in spaces from its upper left corner.
#[derive(Clone, Debug, PartialEq)]
pub struct Page {
    /// Spaces.
    pub width: f32,
    /// Spaces.
    pub height: f32,
    /// Millimetres in a space.
    pub mm: f32,
    /// Everything on it.
    pub marks: Vec<Mark>,
}

impl Page {
    fn blank(layout: &Layout) -> Self {
        let mm = if layout.large { LARGE_MM } else { MM };
        let (width, height) = layout.paper.size_mm();
        Self { width: width / mm, height: height / mm, mm, marks: Vec::new() }
    }

    fn margin(&self) -> f32 {
        MARGIN_MM / self.mm
    }
}

/// Lays a sheet out on pages; at least one.
#[must_use]
pub fn pages(sheet: &Sheet, layout: &Layout) -> Vec<Page> {
    let engraver = Engraver::new(sheet);
    let mut first = Page::blank(layout);
    let margin = first.margin();
    let top = head(sheet, &mut first);
    let systems = systems(&engraver, &layout.options, first.width - 2.0 * margin);
    let room = first.height - 2.0 * margin - FOOT;
    let parts = parts(&systems, (room - top, room));
    let mut pages = vec![first];
    pages.resize_with(parts.len().max(1), || Page::blank(layout));
    let mut rest = systems.as_slice();
    for (n, (page, count)) in pages.iter_mut().zip(&parts).enumerate() {
        let (here, later) = rest.split_at((*count).min(rest.len()));
        rest = later;
        let (start, room) = if n == 0 { (margin + top, room - top) } else { (margin, room) };
        fill(page, here, start, room);
    }
    let count = pages.len();
    for (n, page) in pages.iter_mut().enumerate() {
        foot(sheet, n, count, page);
    }
    pages
}

/// Words on pages of their own: a title, and a paragraph for each of `paragraphs`.
#[must_use]
pub fn words(title: &str, paragraphs: &[String], layout: &Layout) -> Vec<Page> {
    const SIZE: f32 = 2.2;
    let mut pages = vec![Page::blank(layout)];
    let (width, height, margin) = match pages.first() {
        Some(page) => (page.width, page.height, page.margin()),
        None => return pages,
    };
    let mut y = margin + 3.2;
    if let Some(page) = pages.first_mut() {
        let (size, lines) = title_lines(title, width - 2.0 * margin);
        for line in lines {
            page.marks.push(strong(line, at(margin, y), size, Align::Left));
            y += size * LEADING;
        }
    }
    for paragraph in paragraphs {
        y += 1.0;
        for line in wrapped(paragraph, SIZE, width - 2.0 * margin, usize::MAX) {
            if y > height - margin {
                pages.push(Page::blank(layout));
                y = margin + SIZE;
            }
            let anchor = at(margin, y);
            let (face, align) = (Face::Plain, Align::Left);
            let shape = Shape::Text { text: line, anchor, size: SIZE, face, align };
            if let Some(page) = pages.last_mut() {
                page.marks.push(Mark { shape, ink: Ink::Word });
            }
            y += SIZE * 1.4;
        }
    }
    pages
}

/// Puts systems one under the other, the spare room between them.
fn fill(page: &mut Page, systems: &[StaffSystem], start: f32, room: f32) {
    let needed: f32 = systems.iter().map(StaffSystem::height).sum();
    let gap = ((room - needed) / systems.len().max(1) as f32).clamp(BETWEEN, APART);
    let mut y = start;
    for system in systems {
        let moved = |mark: &Mark| mark.moved(MARGIN_MM / page.mm, y - system.top);
        let marks: Vec<Mark> = system.marks.iter().map(moved).collect();
        page.marks.extend(marks);
        y += system.height() + gap;
    }
}

/// How many systems go on each page: as few pages as will do, all filled alike.
fn parts(systems: &[StaffSystem], (first, later): (f32, f32)) -> Vec<usize> {
    let filled = |part: f32| {
        let mut parts = vec![0];
        let mut left = first * part;
        for system in systems {
            let height = system.height() + BETWEEN;
            // What is higher than a page has one of its own.
            if height > left + BETWEEN && parts.last().is_some_and(|count| *count > 0) {
                parts.push(0);
                left = later * part;
            }
            left -= height;
            if let Some(count) = parts.last_mut() {
                *count += 1;
            }
        }
        parts
    };
    let fewest = filled(1.0).len();
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..20 {
        let middle = f32::midpoint(low, high);
        if filled(middle).len() > fewest { low = middle } else { high = middle }
    }
    filled(high)
}

/// The systems of a sheet on lines of this width.
fn systems(engraver: &Engraver, options: &EngraveOptions, width: f32) -> Vec<StaffSystem> {
    let bars = engraver.sheet().bars.len();
    let breaks = breaks(engraver, options, width);
    let ends = breaks.iter().copied().chain([bars]);
    let starts = [0].into_iter().chain(breaks.iter().copied());
    let draw = |(from, to): (usize, usize)| {
        let natural = engraver.system(from..to, None, options).width;
        let ragged = to == bars && natural < width * RAGGED;
        let given = if ragged { (natural * 1.15).min(width) } else { width };
        engraver.system(from..to, Some(given), options)
    };
    starts.zip(ends).map(draw).collect()
}

/// Bars that start a line, without the first.
fn breaks(engraver: &Engraver, options: &EngraveOptions, width: f32) -> Vec<usize> {
    let sheet = engraver.sheet();
    let opening = signature::width(sheet.key, None);
    let width_of = |bar: usize| {
        let wide = |width| engraver.system(bar..bar + 1, width, options).width - opening;
        BarWidth { natural: wide(None), least: wide(Some(0.0)) }
    };
    let widths: Vec<BarWidth> = (0..sheet.bars.len()).map(width_of).collect();
    line_breaks(sheet, &widths, LineRoom { width: width - opening, most: BARS })
}

/// Where lines are broken on a page of A4: the same in every format.
pub(in crate::sheet) fn usual_breaks(engraver: &Engraver) -> Vec<usize> {
    let page = Page::blank(&Layout::ALL);
    breaks(engraver, &EngraveOptions::ALL, page.width - 2.0 * page.margin())
}

/// Words in lines of at most `width`; what is left out is told by an ellipsis.
fn wrapped(words: &str, size: f32, width: f32, most: usize) -> Vec<String> {
    let fits = |line: &str| words_width(line, size) <= width;
    let mut lines: Vec<String> = Vec::new();
    let mut line = String::new();
    for word in words.split_whitespace() {
        let longer = if line.is_empty() { word.to_owned() } else { format!("{line} {word}") };
        if fits(&longer) {
            line = longer;
            continue;
        }
        if !line.is_empty() {
            lines.push(std::mem::take(&mut line));
        }
        // A word longer than a line is cut.
        for letter in word.chars() {
            line.push(letter);
            if !fits(&line) {
                line.pop();
                lines.push(std::mem::replace(&mut line, letter.to_string()));
            }
        }
        if lines.len() > most {
            break;
        }
    }
    if !line.is_empty() {
        lines.push(line);
    }
    if lines.len() > most {
        lines.truncate(most);
        if let Some(last) = lines.last_mut() {
            while !last.is_empty() && !fits(&format!("{last}\u{2026}")) {
                last.pop();
            }
            last.push('\u{2026}');
        }
    }
    lines
}

/// A title in lines, and the size that they are set in.
fn title_lines(title: &str, width: f32) -> (f32, Vec<String>) {
    let lines = wrapped(title, TITLE, width, TITLE_LINES);
    if lines.len() < 2 {
        return (TITLE, lines);
    }
    (LONG_TITLE, wrapped(title, LONG_TITLE, width, TITLE_LINES))
}

/// Title, pattern and tempo; gives how much room they took.
fn head(sheet: &Sheet, page: &mut Page) -> f32 {
    let (middle, margin) = (page.width / 2.0, page.margin());
    let width = page.width - 2.0 * margin;
    let mut y = margin + 3.2;
    let (size, lines) = title_lines(&sheet.title, width - 2.0 * BESIDE);
    for (n, line) in lines.into_iter().enumerate() {
        y += if n > 0 { size * LEADING } else { 0.0 };
        page.marks.push(strong(line, at(middle, y), size, Align::Middle));
    }
    let plain = |words: String, x: f32, y: f32, size: f32, align: Align| {
        let shape = Shape::Text { text: words, anchor: at(x, y), size, face: Face::Plain, align };
        Mark { shape, ink: Ink::Word }
    };
    for line in wrapped(&sheet.pattern, 2.3, width - 2.0 * BESIDE, 2) {
        y += 3.0;
        page.marks.push(plain(line, middle, y, 2.3, Align::Middle));
    }
    y += 2.8;
    let compound = sheet.bars.first().is_some_and(|bar| bar.metre.is_compound());
    let felt = if compound { sheet.tempo / 1.5 } else { sheet.tempo };
    let mut x = margin;
    let mut sign = |glyph: Glyph, x: &mut f32| {
        let origin = at(*x, y);
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
    page.marks.push(plain(tempo, x + 0.5, y + 0.2, 2.0, Align::Left));
    y + 2.0 - margin
}

fn foot(sheet: &Sheet, number: usize, count: usize, page: &mut Page) {
    let (middle, y) = (page.width / 2.0, page.height - page.margin());
    let width = page.width - 2.0 * page.margin();
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
        let lines = wrapped(LEGEND, 1.45, width, 3);
        let first = y - 0.4 - 1.9 * lines.len() as f32;
        for (n, line) in lines.into_iter().enumerate() {
            say(line, first + 1.9 * (n + 1) as f32);
        }
    }
    if count > 1 {
        let title = wrapped(&sheet.title, 1.45, width / 2.0, 1).pop().unwrap_or_default();
        let name = if number == 0 { String::new() } else { format!("{title} \u{2013} ") };
        say(format!("{name}{} / {count}", number + 1), y + 1.8);
    }
}
