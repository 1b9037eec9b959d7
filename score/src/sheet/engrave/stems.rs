//! Stems, flags and beams.
//!
//! Rules: common practice (E. Gould, "Behind Bars", 2011, from memory): a stem
//! is an octave long and reaches the middle line; a beam slants with its first
//! and last note, little, and not at all where an inner note lies beyond them.

use super::super::voice::Beam;
use super::canvas::Canvas;
use super::glyph::{BEAM, BEAM_STEP, Glyph, STEM, STEM_ANCHOR};
use super::heads::{Stack, y_of};
use super::mark::{Ink, Mark, Shape, at, glyph, line};

/// An octave.
const LENGTH: f32 = 3.5;
/// The least in a beam, from the head to its outer edge.
const IN_BEAM: f32 = 3.0;
/// The middle line.
const MIDDLE: f32 = 2.0;
/// The most that a beam slants, spaces, and a space of width.
const MOST_SLANT: f32 = 1.0;
const MOST_SLOPE: f32 = 0.12;
/// The length of a beam that joins nothing.
const HOOK: f32 = 1.15;

/// One note of a beam, or alone.
pub(super) struct Stemmed<'a> {
    /// Its column.
    pub x: f32,
    pub stack: &'a Stack,
    pub beams: &'a [Beam],
    pub flags: u8,
}

impl Stemmed<'_> {
    fn stem_x(&self) -> f32 {
        if self.stack.up {
            self.x + self.stack.head.width() - STEM / 2.0
        } else {
            self.x + STEM / 2.0
        }
    }

    /// The head next to the stem's end, and the one where it starts.
    fn near(&self) -> f32 {
        y_of(if self.stack.up { self.stack.highest() } else { self.stack.lowest() })
    }

    fn far(&self) -> f32 {
        let (step, into) = if self.stack.up {
            (self.stack.lowest(), -STEM_ANCHOR)
        } else {
            (self.stack.highest(), STEM_ANCHOR)
        };
        y_of(step) + into
    }
}

/// A stem, with flags where it has them.
pub(super) fn alone(note: &Stemmed, canvas: &mut Canvas) {
    if !note.stack.has_stem() {
        return;
    }
    let up = note.stack.up;
    let end =
        if up { (note.near() - LENGTH).min(MIDDLE) } else { (note.near() + LENGTH).max(MIDDLE) };
    let x = note.stem_x();
    canvas.push(line(at(x, note.far()), at(x, end), STEM, Ink::Music));
    if note.flags > 0 {
        canvas.push(glyph(Glyph::flag(note.flags, up), at(x - STEM / 2.0, end)));
    }
}

/// A group under one beam.
pub(super) fn beamed(notes: &[Stemmed], canvas: &mut Canvas) {
    let (Some(first), Some(last)) = (notes.first(), notes.last()) else { return };
    let up = first.stack.up;
    let slant = Slant::of(notes);
    let side = if up { 1.0 } else { -1.0 };
    for note in notes {
        let (x, end) = (note.stem_x(), slant.y(note.stem_x()));
        canvas.push(line(at(x, note.far()), at(x, end + side * 0.05), STEM, Ink::Music));
    }
    let (least, most) = (first.stem_x() - STEM / 2.0, last.stem_x() + STEM / 2.0);
    for level in 0..notes.iter().map(|note| note.beams.len()).max().unwrap_or(0) {
        let into = side * BEAM_STEP * level as f32;
        let mut beam = |from: f32, to: f32| {
            canvas.push(quad(from.max(least), to.min(most), &slant, into, up));
        };
        let mut from = None;
        for note in notes {
            let x = note.stem_x();
            match note.beams.get(level) {
                Some(Beam::Begin) => from = Some(x - STEM / 2.0),
                Some(Beam::End) => {
                    if let Some(from) = from.take() {
                        beam(from, x + STEM / 2.0);
                    }
                }
                Some(Beam::ForwardHook) => beam(x - STEM / 2.0, x + HOOK),
                Some(Beam::BackwardHook) => beam(x - HOOK, x + STEM / 2.0),
                Some(Beam::Continue) | None => {}
            }
        }
    }
}

/// `into` is where its outer edge lies inside the first beam's.
fn quad(from: f32, to: f32, slant: &Slant, into: f32, up: bool) -> Mark {
    let thick = if up { BEAM } else { -BEAM };
    let (a, b) = (slant.y(from) + into, slant.y(to) + into);
    let mut corners = [at(from, a), at(to, b), at(to, b + thick), at(from, a + thick)];
    if !up {
        corners = [corners[3], corners[2], corners[1], corners[0]];
    }
    Mark { shape: Shape::Beam { corners }, ink: Ink::Music }
}

/// The outer edge of a beam.
struct Slant {
    x: f32,
    y: f32,
    slope: f32,
}

impl Slant {
    fn of(notes: &[Stemmed]) -> Self {
        let (Some(first), Some(last)) = (notes.first(), notes.last()) else {
            return Self { x: 0.0, y: 0.0, slope: 0.0 };
        };
        let up = first.stack.up;
        let (x, width) = (first.stem_x(), (last.stem_x() - first.stem_x()).max(0.1));
        let side = if up { -1.0 } else { 1.0 };
        // Toward the beam is more.
        let toward = |note: &Stemmed| side * note.near();
        let ends = toward(first).max(toward(last));
        let inner = notes.get(1..notes.len() - 1).unwrap_or(&[]);
        let beyond = inner.iter().any(|note| toward(note) > ends + 0.01);
        let rise = if beyond { 0.0 } else { (last.near() - first.near()) * 0.5 };
        let most = MOST_SLANT.min(MOST_SLOPE * width);
        let slope = rise.clamp(-most, most) / width;
        // As far out as the note that comes nearest asks for.
        let levels = notes.iter().map(|note| note.beams.len()).max().unwrap_or(1);
        let least = IN_BEAM + (levels.saturating_sub(1)) as f32 * 0.25;
        let reach = |note: &Stemmed| toward(note) + least - side * slope * (note.stem_x() - x);
        let out = notes.iter().map(reach).fold(f32::MIN, f32::max);
        let mut y = side * out;
        // To the middle line at both ends.
        let end = y + slope * width;
        let short = if up { y.max(end) - MIDDLE } else { MIDDLE - y.min(end) };
        if short > 0.0 {
            y += side * short;
        }
        if slope == 0.0 {
            // On a line or just inside it, so that no sliver of white is left.
            y = (y * 2.0).round() / 2.0;
        }
        Self { x, y, slope }
    }

    fn y(&self, x: f32) -> f32 {
        self.y + self.slope * (x - self.x)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stack(step: i32, up: bool) -> Stack {
        Stack::single(step, up, Glyph::HEAD_BLACK)
    }

    fn drawn(steps: &[i32], up: bool) -> (Vec<[f32; 2]>, [f32; 4]) {
        let stacks: Vec<Stack> = steps.iter().map(|step| stack(*step, up)).collect();
        let beams = |n: usize| match n {
            0 => [Beam::Begin],
            n if n + 1 == steps.len() => [Beam::End],
            _ => [Beam::Continue],
        };
        let beams: Vec<_> = (0..steps.len()).map(beams).collect();
        let notes: Vec<Stemmed> = stacks
            .iter()
            .zip(&beams)
            .enumerate()
            .map(|(n, (stack, beams))| Stemmed { x: n as f32 * 4.0, stack, beams, flags: 1 })
            .collect();
        let mut canvas = Canvas::new(0.0, 0.0);
        beamed(&notes, &mut canvas);
        let mut stems = vec![];
        let mut beam = [0.0; 4];
        for mark in &canvas.marks {
            match &mark.shape {
                Shape::Line { from, to, .. } => stems.push([from.y, to.y]),
                Shape::Beam { corners } => beam = corners.map(|corner| corner.y),
                _ => {}
            }
        }
        (stems, beam)
    }

    #[test]
    fn a_beam_rises_with_its_notes_but_little() {
        let (stems, beam) = drawn(&[-6, -4, -3, -1], true);
        assert_eq!(stems.len(), 4);
        assert!(beam[1] < beam[0] && beam[0] - beam[1] <= MOST_SLANT + 0.02, "{beam:?}");
        for [from, to] in stems {
            assert!(from - to >= IN_BEAM - STEM_ANCHOR - 0.1, "a stem too short: {from} {to}");
        }
    }

    #[test]
    fn a_note_beyond_the_ends_makes_the_beam_level() {
        let (_, beam) = drawn(&[-6, -1, -6], true);
        assert!((beam[0] - beam[1]).abs() < 1e-5);
        let (_, beam) = drawn(&[2, 5, 0, 4], false); // an inner note below both
        assert!((beam[0] - beam[1]).abs() < 1e-5);
    }

    #[test]
    fn stems_of_ledger_notes_reach_the_middle_line() {
        let (stems, _) = drawn(&[-12, -12], true); // E1 and friends
        assert!(stems.iter().all(|[_, to]| *to <= MIDDLE + 0.06), "{stems:?}");
        let mut canvas = Canvas::new(0.0, 0.0);
        let low = stack(-12, true);
        alone(&Stemmed { x: 0.0, stack: &low, beams: &[], flags: 0 }, &mut canvas);
        assert!((canvas.top - 0.0).abs() < 2.01);
    }
}
