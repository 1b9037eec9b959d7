//! Where a line of the page ends: the way through the bars that is least crowded,
//! least empty, and keeps phrases together.

use super::{Sheet, SheetBar};

/// How wide lines may be.
#[derive(Clone, Copy, Debug)]
pub(super) struct LineRoom {
    /// For bars, when clef and key signature stand.
    pub width: f32,
    /// The most bars on one line, pick-ups not counted.
    pub most: usize,
}

/// A line may be squeezed to this part of the room that it would like.
const SQUEEZED: f32 = 0.8;
/// What a line costs, beside the square of how far it is from the room that it
/// would like. By eye.
const CROWDED: f32 = 3.0;
/// A section that starts inside of a line.
const INSIDE: f32 = 0.5;
/// Bars that are not a half or a whole phrase of four.
const ODD: f32 = 0.04;
/// A last line of one bar, where there are others.
const ALONE: f32 = 0.3;

/// The room that a bar would like, and the least that it needs.
#[derive(Clone, Copy, Debug)]
pub(super) struct BarWidth {
    pub natural: f32,
    pub least: f32,
}

/// Bars that start a line, without the first.
pub(super) fn line_breaks(sheet: &Sheet, widths: &[BarWidth], room: LineRoom) -> Vec<usize> {
    let bars = &sheet.bars;
    // The cheapest way to have lines up to each bar, and where its last starts.
    let mut ways: Vec<(f32, usize)> = vec![(0.0, 0)];
    for end in 1..=bars.len() {
        let mut best = (f32::INFINITY, end - 1);
        for start in (end.saturating_sub(room.most + 1)..end).rev() {
            let line = bars.get(start..end).unwrap_or(&[]);
            let here = widths.get(start..end).unwrap_or(&[]);
            let natural: f32 = here.iter().map(|width| width.natural).sum();
            let least: f32 = here.iter().map(|width| width.least).sum();
            if line.len() > 1 && least > room.width {
                break;
            }
            let Some(cost) = of_line(line, natural / room.width, end == bars.len(), room.most)
            else {
                break;
            };
            let before = ways.get(start).map_or(0.0, |way| way.0);
            if before + cost < best.0 {
                best = (before + cost, start);
            }
        }
        ways.push(best);
    }
    let mut breaks = Vec::new();
    let mut end = bars.len();
    while let Some((_, start)) = ways.get(end).filter(|way| way.1 > 0) {
        breaks.push(*start);
        end = *start;
    }
    breaks.reverse();
    breaks
}

/// What a line costs; `None` if these bars do not go on one. `full` is the room
/// that they would like as a part of what there is.
fn of_line(line: &[SheetBar], full: f32, is_last: bool, most: usize) -> Option<f32> {
    let counted = line.iter().filter(|bar| bar.number != 0).count();
    if line.len() > 1 && (full * SQUEEZED > 1.0 || counted > most) {
        return None;
    }
    let over = full - 1.0;
    let fill = if over > 0.0 { CROWDED * over * over } else { over * over };
    let inside = line.iter().skip(1).filter(|bar| bar.section.is_some()).count();
    let odd = if counted == most || counted * 2 == most { 0.0 } else { ODD };
    // A last line need not be full, but a bar alone looks forgotten.
    let fill = match (is_last, counted) {
        (true, 0 | 1) => ALONE,
        (true, _) => fill / 4.0,
        (false, _) => fill,
    };
    Some(fill + odd + INSIDE * inside as f32)
}
