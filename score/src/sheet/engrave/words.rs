//! Words at the notes: chord symbols above, fingers over the left hand, counts
//! and roles below.

use super::super::written::{WrittenEvent, WrittenNote};
use super::canvas::Canvas;
use super::mark::{Align, Face, Ink, Mark, Shape, at, line, strong, text, words_width};
use crate::sheet::SheetChord;
use crate::wording;

pub(super) const CHORD: f32 = 2.5;
pub(super) const COUNT: f32 = 1.75;
const ROLE: f32 = 1.5;
const FINGER: f32 = 1.35;
const OCTAVE: f32 = 1.6;
pub(super) const REASON: f32 = 1.35;

/// As printed; a long symbol gets smaller letters behind its root.
pub(super) fn symbol(chord: &SheetChord) -> String {
    chord.symbol.map_or("N.C.".into(), |symbol| symbol.to_string())
}

/// How much room it needs.
pub(super) fn symbol_width(chord: &SheetChord) -> f32 {
    words_width(&symbol(chord), CHORD) + 0.6
}

pub(super) fn chord(chord: &SheetChord, x: f32, y: f32) -> Mark {
    strong(symbol(chord), at(x, y), CHORD, Align::Left)
}

/// Half of what stands under a note reaches so far to both sides.
pub(super) fn under_half(event: &WrittenEvent, counts: bool, roles: bool) -> f32 {
    let count = if counts { words_width(&event.count.syllable(), COUNT) } else { 0.0 };
    let role = if roles { words_width(&role_text(event), ROLE) } else { 0.0 };
    count.max(role) / 2.0
}

fn role_text(event: &WrittenEvent) -> String {
    event.roles.iter().copied().map(wording::letter).collect()
}

/// The count, and under it what the note is to its chord; `x` is the middle of
/// the head, `y` the base line of the first.
pub(super) fn under(event: &WrittenEvent, x: f32, y: f32, counts: bool, roles: bool) -> Vec<Mark> {
    let mut marks = Vec::new();
    let mut y = y;
    if counts {
        let ink = if event.count.is_on() { Ink::Word } else { Ink::Aside };
        marks.push(text(event.count.syllable(), at(x, y), COUNT, ink));
        y += COUNT + 0.2;
    }
    if roles {
        marks.push(text(role_text(event), at(x, y), ROLE, Ink::Aside));
    }
    marks
}

/// Reasons at these places, none running into another or over the system's `end`: what
/// has no room beside the one before stands a line lower. `y` is the first base line.
pub(super) fn reasons(said: &[(&str, f32)], (y, end): (f32, f32), canvas: &mut Canvas) {
    let mut lines: Vec<f32> = Vec::new();
    for (words, x) in said {
        let width = words_width(words, REASON);
        let x = x.min(end - width).max(0.0);
        let line = lines.iter().position(|until| *until <= x).unwrap_or(lines.len());
        lines.resize(lines.len().max(line + 1), 0.0);
        if let Some(until) = lines.get_mut(line) {
            *until = x + width + 0.5;
        }
        let anchor = at(x, y + line as f32 * REASON * 1.25);
        let (text, face, align) = ((*words).to_owned(), Face::Plain, Align::Left);
        canvas.push(Mark {
            shape: Shape::Text { text, anchor, size: REASON, face, align },
            ink: Ink::Aside,
        });
    }
}

/// How much room all lines under the staff take.
pub(super) fn under_height(counts: bool, roles: bool) -> f32 {
    let lines = f32::from(u8::from(counts)) * (COUNT + 0.2) + f32::from(u8::from(roles)) * ROLE;
    if lines > 0.0 { lines + 0.5 } else { 0.0 }
}

/// `8vb` under the music from `from` to `to`, and a broken line with a hook.
pub(super) fn octave_lower(from: f32, to: f32, canvas: &mut Canvas) {
    let line_y = canvas.bottom.max(4.6) + 1.3;
    let label = "8vb";
    let width = words_width(label, OCTAVE);
    canvas.push(text(label, at(from + width / 2.0, line_y), OCTAVE, Ink::Word));
    let mut x = from + width + 0.5;
    while x + 0.8 < to {
        canvas.push(line(at(x, line_y), at(x + 0.8, line_y), 0.13, Ink::Music));
        x += 1.5;
    }
    if x > from + width + 0.5 {
        canvas.push(line(at(to, line_y), at(to, line_y - 0.8), 0.13, Ink::Music));
    }
}

/// Fingers over what is struck at one moment, the highest key's on top; an arrow where
/// the hand moves. `middle` is the x of the heads' middle.
pub(super) fn fingers<'a>(
    struck: impl Iterator<Item = &'a WrittenEvent>,
    middle: f32,
    above: f32,
    canvas: &mut Canvas,
) {
    let mut moves = false;
    let mut fingers = Vec::new();
    for event in struck {
        moves |= event.moves;
        let of = |note: &WrittenNote| Some((note.note.key, note.finger?));
        fingers.extend(event.notes.iter().filter_map(of));
    }
    fingers.sort_unstable();
    let mut y = above - 0.7;
    for (place, (_, finger)) in fingers.into_iter().enumerate() {
        let arrow = if moves && place == 0 { "\u{2192}" } else { "" };
        // The digit stands over the head, the arrow before it.
        let x = middle - words_width(arrow, FINGER) / 2.0;
        canvas.push(text(format!("{arrow}{finger}"), at(x, y), FINGER, Ink::Aside));
        y -= FINGER * 0.95;
    }
}
