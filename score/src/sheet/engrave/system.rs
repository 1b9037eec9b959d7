//! A system: its bars spaced out, its staves one under the other.

use std::ops::Range;

use super::super::written::Staff;
use super::canvas::Canvas;
use super::columns::{self, Column};
use super::hand::HandPieces;
use super::mark::{Align, Face, Ink, Mark, Point, Shape, at, line, strong, text, words_width};
use super::rules;
use super::signature;
use super::space::{self, Spring};
use super::words;
use super::{EngraveOptions, Engraver, StaffSystem};
use crate::sheet::{Sheet, SheetBar, SheetChord};
use sinistra_core::time::{Metre, Ticks};

/// Left of a system of several staves, for the brace.
const BRACE_ROOM: f32 = 1.8;
/// From the bottom line of a staff to the top line of the next, at the least.
const STAVES_APART: f32 = 5.5;
/// Between the lowest sign of one staff and the highest of the next.
const CLEAR: f32 = 1.2;

/// Between the last bar line and a time signature behind it.
const COURTESY: f32 = 0.5;

/// The metre of the next line, where it is another: it is printed at the end of
/// this one (common practice).
fn courtesy(engraver: &Engraver, next: usize) -> Option<Metre> {
    let bars = &engraver.sheet.bars;
    let metre = bars.get(next)?.metre;
    let before = bars.get(next.checked_sub(1)?)?.metre;
    (metre != before).then_some(metre)
}

/// A section's letter in a box, and its name, on a line that starts at `place`.
fn section(letter: &str, name: &str, place: Point, page: &mut Canvas) {
    const SIZE: f32 = 2.0;
    let mut x = place.x;
    if !letter.is_empty() {
        let width = words_width(letter, SIZE) + 0.8;
        let (top, bottom) = (place.y - 1.8, place.y + 0.4);
        let corners = [at(x, top), at(x + width, top), at(x + width, bottom), at(x, bottom)];
        for n in 0..4 {
            page.push(line(corners[n], corners[(n + 1) % 4], 0.16, Ink::Music));
        }
        let middle = at(x + width / 2.0, place.y);
        page.push(strong(letter, middle, SIZE, Align::Middle));
        x += width + 0.6;
    }
    if !name.is_empty() {
        page.push(strong(name, at(x, place.y), SIZE, Align::Left));
    }
}

/// A bar on its way into a system.
struct EngravedBar<'a> {
    bar: &'a SheetBar,
    /// The letter and name of the section that starts here.
    section: Option<(String, String)>,
    chords: &'a [SheetChord],
    /// The metre, where it is printed in front of it.
    metre: Option<Metre>,
    columns: Vec<Column>,
    last: bool,
}

pub(super) fn draw(
    engraver: &Engraver,
    range: Range<usize>,
    width: Option<f32>,
    options: &EngraveOptions,
) -> StaffSystem {
    let bars = engraver.bars(range.clone());
    let mut hands: Vec<HandPieces> = options
        .staves
        .iter()
        .map(|staff| {
            let written = (0..bars.len()).map(|n| engraver.written(*staff, range.start + n));
            HandPieces::of(*staff, written)
        })
        .collect();
    let range_end = range.end;
    let bars = prepared(engraver, range, bars, &hands, options);
    let key = engraver.sheet.key;
    let start = if hands.len() > 1 { BRACE_ROOM } else { 0.0 };
    let prefix = signature::width(key, None);
    let (springs, firsts) = springs(&bars);
    let music = start + prefix;
    let courtesy = courtesy(engraver, range_end);
    let after = courtesy.map_or(0.0, |metre| COURTESY + signature::time_width(metre));
    let stretch = width.map_or(1.0, |width| space::stretch(&springs, width - music - after));
    let ends = space::ends(&springs, music, stretch);
    let end = ends.last().copied().unwrap_or(music);

    let BarPlaces { spans, columns } = placed(&bars, &firsts, &ends, music, &mut hands);
    // Each staff by itself, then one under the other.
    let drawn: Vec<_> = hands.iter().map(|hand| hand.draw(&spans, options)).collect();
    let tops = stacked(drawn.iter().map(|(canvas, _)| canvas));
    let mut page = Canvas::new(0.0, 4.0);
    let mut heads = Vec::new();
    for (((canvas, placed), top), hand) in drawn.into_iter().zip(&tops).zip(&hands) {
        rules::staff(start, end + after, *top, &mut page);
        let signs = signature::opening(hand.staff, key, start);
        page.extend(signs.iter().map(|mark| mark.moved(0.0, *top)));
        page.extend(canvas.marks.iter().map(|mark| mark.moved(0.0, *top)));
        heads.extend(placed.into_iter().map(|mut head| {
            head.y += top;
            head
        }));
    }
    if hands.len() > 1 {
        rules::brace(start, &tops, &mut page);
    }
    lines(&bars, &spans, &tops, &mut page);
    if let Some(metre) = courtesy {
        for top in &tops {
            let signs = signature::time(metre, end + COURTESY);
            page.extend(signs.iter().map(|mark| mark.moved(0.0, *top)));
        }
    }
    under(&hands, &tops, options, &mut page);
    if options.reasons {
        reasons(engraver.sheet(), &bars, &columns, end, &mut page);
    }
    above(&bars, &spans, &columns, start, options, &mut page);
    let staves = options.staves.iter().copied().zip(tops).collect();
    let Canvas { marks, top, bottom } = page;
    StaffSystem { width: end + after, top, bottom, marks, columns, heads, staves, bars: spans }
}

/// Where everything is.
struct BarPlaces {
    /// Each bar, from its line to the next.
    spans: Vec<(f32, f32)>,
    columns: Vec<(Ticks, f32)>,
}

/// Puts the pieces of the hands in their places.
fn placed(
    bars: &[EngravedBar],
    firsts: &[usize],
    ends: &[f32],
    music: f32,
    hands: &mut [HandPieces],
) -> BarPlaces {
    let end = ends.last().copied().unwrap_or(music);
    let mut spans = Vec::new();
    let mut columns: Vec<(Ticks, f32)> = Vec::new();
    for (n, (bar, first)) in bars.iter().zip(firsts).enumerate() {
        let x = |index: usize| ends.get(first + index).copied().unwrap_or(end);
        let line = spans.last().map_or(music, |before: &(f32, f32)| before.1);
        spans.push((line, x(bar.columns.len())));
        let missing = bar.bar.missing().0;
        for (index, column) in bar.columns.iter().enumerate() {
            columns.push((bar.bar.at + Ticks(column.offset - missing), x(index)));
            for hand in &mut *hands {
                let here = hand.pieces.iter_mut().filter(|piece| piece.bar == n);
                here.filter(|piece| piece.written.offset == column.offset)
                    .for_each(|piece| piece.x = x(index) + piece.shift());
            }
        }
    }
    columns.extend(bars.last().map(|bar| (bar.bar.end, end - 0.8)));
    BarPlaces { spans, columns }
}

/// The top line of each staff, one clear of the other.
fn stacked<'a>(staves: impl Iterator<Item = &'a Canvas>) -> Vec<f32> {
    let (mut tops, mut above) = (Vec::new(), None);
    for canvas in staves {
        let top = above.map_or(0.0, |(top, bottom): (f32, f32)| {
            top + (4.0 + STAVES_APART).max(bottom + CLEAR - canvas.top)
        });
        tops.push(top);
        above = Some((top, canvas.bottom));
    }
    tops
}

fn prepared<'a>(
    engraver: &'a Engraver,
    range: Range<usize>,
    bars: &'a [SheetBar],
    hands: &[HandPieces],
    options: &EngraveOptions,
) -> Vec<EngravedBar<'a>> {
    let all = &engraver.sheet.bars;
    let chords = &engraver.sheet.chords;
    let marks = &engraver.sections;
    let prepare = |(n, bar): (usize, &'a SheetBar)| {
        let index = range.start + n;
        let before = index.checked_sub(1).and_then(|before| all.get(before));
        let from = chords.partition_point(|chord| chord.at < bar.at);
        let to = chords.partition_point(|chord| chord.at < bar.end);
        let here = chords.get(from..to).unwrap_or(&[]);
        EngravedBar {
            bar,
            section: marks.get(index).cloned().flatten(),
            chords: here,
            metre: before.is_none_or(|b| b.metre != bar.metre).then_some(bar.metre),
            columns: columns::of_bar(bar, n, hands, here, options),
            last: index + 1 == all.len(),
        }
    };
    bars.iter().enumerate().map(prepare).collect()
}

/// All springs of the system, and which ends at each bar's first column.
fn springs(bars: &[EngravedBar]) -> (Vec<Spring>, Vec<usize>) {
    let mut springs: Vec<Spring> = Vec::new();
    let mut firsts = Vec::new();
    for bar in bars {
        let mut of_bar = columns::springs(bar.bar, &bar.columns, bar.last);
        if let Some(into) = of_bar.first_mut() {
            into.least += bar.metre.map_or(0.0, |metre| signature::time_width(metre) + 0.3);
            into.least += if bar.bar.repeat_from { rules::REPEAT } else { 0.0 };
        }
        firsts.push(springs.len());
        springs.extend(of_bar);
    }
    (springs, firsts)
}

/// Time signatures, bar lines and repeats.
fn lines(bars: &[EngravedBar], spans: &[(f32, f32)], tops: &[f32], page: &mut Canvas) {
    for (n, (bar, (from, to))) in bars.iter().zip(spans).enumerate() {
        let mut x = *from;
        if let Some(metre) = bar.metre {
            x += if n == 0 { 0.0 } else { 0.6 };
            for top in tops {
                page.extend(signature::time(metre, x).iter().map(|mark| mark.moved(0.0, *top)));
            }
            x += signature::time_width(metre);
        }
        if bar.bar.repeat_from {
            rules::repeat_from(x, tops, page);
        }
        rules::closing(*to, bar.bar, bar.last, tops, page);
    }
}

/// Counts and roles under the left hand.
fn under(hands: &[HandPieces], tops: &[f32], options: &EngraveOptions, page: &mut Canvas) {
    let left = hands.iter().position(|hand| hand.staff == Staff::Left);
    let Some(hand) = left.and_then(|index| hands.get(index)) else { return };
    if !options.counts && !options.roles {
        return;
    }
    let lowest = tops.last().map_or(4.0, |top| top + 4.0);
    let line = page.bottom.max(lowest + 0.6) + words::COUNT + 0.2;
    for piece in &hand.pieces {
        let said = !piece.written.tied_from && piece.written.counted;
        let Some(stack) = piece.stack.as_ref().filter(|_| said) else { continue };
        let x = piece.x + stack.head.width() / 2.0;
        page.extend(words::under(piece.written, x, line, options.counts, options.roles));
    }
    page.bottom =
        page.bottom.max(line - words::COUNT + words::under_height(options.counts, options.roles));
}

/// Why the left hand plays as it does, under all of it.
fn reasons(
    sheet: &Sheet,
    bars: &[EngravedBar],
    columns: &[(Ticks, f32)],
    end: f32,
    page: &mut Canvas,
) {
    let said = bars.iter().flat_map(|bar| sheet.reasons_in(bar.bar));
    let place = |at: Ticks| columns.iter().rev().find(|column| column.0 <= at);
    let said: Vec<_> =
        said.filter_map(|said| Some((said.text.as_str(), place(said.at)?.1))).collect();
    words::reasons(&said, (page.bottom + words::REASON, end), page);
}

/// Chord symbols, bar numbers, endings and sections, from the staff up.
fn above(
    bars: &[EngravedBar],
    spans: &[(f32, f32)],
    columns: &[(Ticks, f32)],
    start: f32,
    options: &EngraveOptions,
    page: &mut Canvas,
) {
    let mut line = page.top.min(-0.6) - 0.7;
    if options.chords {
        for chord in bars.iter().flat_map(|bar| bar.chords) {
            let column = columns.iter().find(|column| column.0 == chord.at);
            if let Some((_, x)) = column {
                page.push(words::chord(chord, *x, line));
            }
        }
        line -= words::CHORD;
    }
    if let Some(bar) = bars.first().filter(|bar| bar.bar.number > 1) {
        let shape = Shape::Text {
            text: bar.bar.number.to_string(),
            anchor: at(start, -1.7),
            size: 1.4,
            face: Face::Plain,
            align: Align::Left,
        };
        page.push(Mark { shape, ink: Ink::Aside });
    }
    let mut high = line;
    for (bar, (from, to)) in bars.iter().zip(spans) {
        if let Some(ending) = &bar.bar.ending {
            rules::ending(ending, (*from, *to), line - 1.6, page);
            high = high.min(line - 2.6);
        }
        if let Some(times) = bar.bar.repeat_times.filter(|times| *times > 2) {
            page.push(text(format!("{times}×"), at(*to - 1.0, line), 1.5, Ink::Word));
            high = high.min(line - 1.8);
        }
    }
    for (bar, (from, _)) in bars.iter().zip(spans) {
        if let Some((letter, name)) = &bar.section {
            section(letter, name, at(*from, high - 0.3), page);
        }
    }
}
