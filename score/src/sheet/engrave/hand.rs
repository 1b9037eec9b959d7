//! One hand in a system: heads, stems, beams, rests, ties and fingers on its
//! staff, the staff's top line at 0.

use super::super::voice::{Beam, Triplet};
use super::super::written::{Layer, Staff, WrittenEvent};
use super::canvas::Canvas;
use super::glyph::Glyph;
use super::heads::{Stack, stem_up, steps, y_of};
use super::mark::{Ink, Mark, Point, Shape, at, glyph, line};
use super::stems::{self, Stemmed};
use super::{EngraveOptions, PlacedHead, voices, words};
use std::cmp::Ordering;

/// A stroke or rest and where it goes.
pub(super) struct EngravedPiece<'a> {
    pub written: &'a WrittenEvent,
    /// `None` is a rest.
    pub stack: Option<Stack>,
    /// Which bar of the system.
    pub bar: usize,
    /// Where it stands: its column's x, or to the right of that beside the other voice.
    pub x: f32,
    /// Those under one beam share a number.
    group: Option<usize>,
}

impl EngravedPiece<'_> {
    /// How far it stands to the right of its column.
    pub fn shift(&self) -> f32 {
        self.stack.as_ref().map_or(0.0, |stack| stack.shift)
    }
}

/// A hand's pieces, bar after bar.
pub(super) struct HandPieces<'a> {
    pub staff: Staff,
    pub pieces: Vec<EngravedPiece<'a>>,
}

impl<'a> HandPieces<'a> {
    pub fn of(staff: Staff, bars: impl Iterator<Item = &'a [WrittenEvent]>) -> Self {
        let mut pieces = Vec::new();
        for (bar, events) in bars.enumerate() {
            for written in events {
                pieces.push(EngravedPiece { written, stack: None, bar, x: 0.0, group: None });
            }
        }
        let mut hand = Self { staff, pieces };
        hand.group();
        hand
    }

    /// Finds the beams, and with them the way of every stem.
    fn group(&mut self) {
        let mut group = 0;
        for piece in &mut self.pieces {
            piece.group = piece.written.beams.first().map(|_| group);
            if piece.written.beams.first() == Some(&Beam::End) {
                group += 1;
            }
        }
        let staff = self.staff;
        let steps = |piece: &EngravedPiece| steps(piece.written, staff);
        let ways: Vec<Option<bool>> = self
            .pieces
            .iter()
            .map(|piece| {
                match piece.written.layer {
                    Layer::Upper => return Some(true),
                    Layer::Lower => return Some(false),
                    Layer::Only => {}
                }
                let group = piece.group?;
                let same = self.pieces.iter().filter(|other| other.group == Some(group));
                Some(stem_up(same.flat_map(steps)))
            })
            .collect();
        for (piece, way) in self.pieces.iter_mut().zip(ways) {
            let sounds = !piece.written.is_rest();
            piece.stack = sounds.then(|| Stack::of(piece.written, staff, way));
        }
        voices::part(&mut self.pieces);
    }

    /// Whether this hand rests for the whole of a bar.
    pub fn rests(&self, bar: usize) -> bool {
        self.pieces.iter().filter(|piece| piece.bar == bar).all(|piece| piece.stack.is_none())
    }

    /// Draws everything; `spans` are the bars' first and last x.
    pub fn draw(
        &self,
        spans: &[(f32, f32)],
        options: &EngraveOptions,
    ) -> (Canvas, Vec<PlacedHead>) {
        let mut canvas = Canvas::new(-0.2, 4.2);
        let mut placed = Vec::new();
        for (index, piece) in self.pieces.iter().enumerate() {
            match &piece.stack {
                Some(stack) => {
                    stack.draw(piece.x, 0.0, &mut canvas);
                    self.place(piece, stack, &mut placed);
                    self.ties(index, piece, stack, spans, &mut canvas);
                }
                None if self.rests(piece.bar) => {}
                None => {
                    let dy = voices::rest_moves(&self.pieces, piece);
                    rest(piece.written, piece.x, dy, &mut canvas);
                }
            }
        }
        for (bar, (from, to)) in spans.iter().enumerate() {
            if self.rests(bar) {
                let x = f32::midpoint(*from, *to) - Glyph::REST_WHOLE.width() / 2.0;
                canvas.push(glyph(Glyph::REST_WHOLE, at(x, 1.0)));
            }
        }
        self.stems(&mut canvas);
        self.triplets(&mut canvas);
        if options.fingers {
            self.fingers(&mut canvas);
        }
        self.octaves(&mut canvas);
        (canvas, placed)
    }

    fn place(&self, piece: &EngravedPiece, stack: &Stack, placed: &mut Vec<PlacedHead>) {
        for ((note, step), dx) in piece.written.notes.iter().zip(&stack.steps).zip(&stack.xs) {
            placed.push(PlacedHead {
                staff: self.staff,
                at: note.note.at,
                key: note.note.key,
                x: piece.x + dx + stack.head.width() / 2.0,
                y: y_of(*step),
                struck: !piece.written.tied_from,
            });
        }
    }

    fn stems(&self, canvas: &mut Canvas) {
        for pieces in self.pieces.chunk_by(|a, b| a.group.is_some() && a.group == b.group) {
            let notes: Vec<Stemmed> = pieces
                .iter()
                .filter_map(|piece| {
                    Some(Stemmed {
                        x: piece.x,
                        stack: piece.stack.as_ref()?,
                        beams: &piece.written.beams,
                        flags: piece.written.value.map_or(0, |value| value.flags),
                    })
                })
                .collect();
            match notes.as_slice() {
                [] => {}
                [note] => stems::alone(note, canvas),
                _ => stems::beamed(&notes, canvas),
            }
        }
    }

    fn ties(
        &self,
        index: usize,
        piece: &EngravedPiece,
        stack: &Stack,
        spans: &[(f32, f32)],
        canvas: &mut Canvas,
    ) {
        let lower = |piece: &EngravedPiece| piece.written.layer == Layer::Lower;
        let mut later = self.pieces.iter().skip(index + 1);
        let next = later.find(|next| lower(next) == lower(piece));
        let next = next.filter(|next| next.written.tied_from && next.bar <= piece.bar + 1);
        let end = match next {
            Some(next) => next.x - next.stack.as_ref().map_or(0.0, Stack::left) - 0.1,
            None => spans.get(piece.bar).map_or(piece.x + 3.0, |span| span.1 - 0.2),
        };
        let count = stack.steps.len();
        for (place, step) in stack.steps.iter().enumerate() {
            let down = match ((place * 2 + 1).cmp(&count), piece.written.layer) {
                (_, Layer::Lower) | (Ordering::Less, Layer::Only) => true,
                (Ordering::Equal, Layer::Only) => stack.up,
                (_, Layer::Upper) | (Ordering::Greater, Layer::Only) => false,
            };
            if piece.written.tied_on {
                tie(piece.x + stack.right() + 0.1, end, *step, down, canvas);
            }
            if piece.written.tied_from && self.is_first(index) {
                tie(
                    piece.x - stack.left() - 1.8,
                    piece.x - stack.left() - 0.1,
                    *step,
                    down,
                    canvas,
                );
            }
        }
    }

    /// Whether no piece of its voice comes before it on this line.
    fn is_first(&self, index: usize) -> bool {
        let lower = |piece: &EngravedPiece| piece.written.layer == Layer::Lower;
        let piece = self.pieces.get(index);
        piece.is_some_and(|piece| {
            self.pieces.iter().take(index).all(|before| lower(before) != lower(piece))
        })
    }

    /// A 3 over or under each triplet, with a bracket where no beam joins it.
    fn triplets(&self, canvas: &mut Canvas) {
        let mut from = None;
        for (index, piece) in self.pieces.iter().enumerate() {
            match piece.written.triplet {
                Some(Triplet::Start) => from = Some(index),
                Some(Triplet::Stop) => {
                    let pieces = from.take().and_then(|from| self.pieces.get(from..=index));
                    if let Some(pieces) = pieces {
                        triplet(pieces, canvas);
                    }
                }
                _ => {}
            }
        }
    }

    /// An 8vb under each run of low bars.
    fn octaves(&self, canvas: &mut Canvas) {
        let sounding: Vec<&EngravedPiece> =
            self.pieces.iter().filter(|p| p.stack.is_some()).collect();
        for run in sounding.chunk_by(|a, b| a.written.low == b.written.low) {
            let ends = run.first().zip(run.last()).filter(|(first, _)| first.written.low);
            if let Some((first, last)) = ends {
                words::octave_lower(first.x, last.x + 1.2, canvas);
            }
        }
    }

    /// The fingers of all that is struck at one moment stand in one pile, whichever voice
    /// strikes it.
    fn fingers(&self, canvas: &mut Canvas) {
        let beams: Vec<Mark> = canvas.marks.clone();
        let partners: Vec<_> =
            (0..self.pieces.len()).map(|n| voices::partner(&self.pieces, n)).collect();
        for (index, piece) in self.pieces.iter().enumerate() {
            let Some(stack) = &piece.stack else { continue };
            if partners.contains(&Some(index)) {
                continue; // said with the upper voice
            }
            let beneath = partners.get(index).and_then(|n| self.pieces.get((*n)?));
            let struck = beneath.into_iter().chain([piece]).map(|piece| piece.written);
            let middle = piece.x + stack.head.width() / 2.0;
            let above = highest_near(&beams, middle).min(-0.2);
            words::fingers(struck, middle, above, canvas);
        }
    }
}

fn triplet(pieces: &[EngravedPiece], canvas: &mut Canvas) {
    let (Some(first), Some(last)) = (pieces.first(), pieces.last()) else { return };
    let up = pieces.iter().find_map(|piece| piece.stack.as_ref()).is_none_or(|stack| stack.up);
    let (from, to) = (first.x, last.x + 1.2);
    let beamed = pieces.iter().all(|piece| !piece.written.beams.is_empty());
    let near = |x: f32| {
        let (high, low) = (highest_near(&canvas.marks, x), lowest_near(&canvas.marks, x));
        if up { high.min(-0.2) - 0.4 } else { low.max(4.2) + 1.9 }
    };
    let ys = [from + 0.6, f32::midpoint(from, to), to - 0.6].map(near);
    let y = if up {
        ys.into_iter().fold(f32::MAX, f32::min)
    } else {
        ys.into_iter().fold(f32::MIN, f32::max)
    };
    let middle = f32::midpoint(from, to);
    canvas.push(glyph(Glyph::TRIPLET, at(middle - Glyph::TRIPLET.width() / 2.0, y)));
    if beamed {
        return;
    }
    let (bar, hook) = (y - 0.75, if up { 0.8 } else { -0.8 });
    for (start, end, outer) in [(from, middle - 0.9, from), (middle + 0.9, to, to)] {
        canvas.push(line(at(start, bar), at(end, bar), 0.13, Ink::Music));
        canvas.push(line(at(outer, bar), at(outer, bar + hook), 0.13, Ink::Music));
    }
}

/// The lowest thing that is drawn near `x`.
fn lowest_near(marks: &[Mark], x: f32) -> f32 {
    let flipped = |mark: &Mark| match &mark.shape {
        Shape::Glyph { glyph, origin, .. } => {
            let near = origin.x - 0.9 <= x && x <= origin.x + glyph.width() + 0.9;
            near.then(|| super::canvas::extent(&mark.shape).1)
        }
        Shape::Line { from, to, .. } if mark.ink == Ink::Music => {
            let near = from.x.min(to.x) - 0.9 <= x && x <= from.x.max(to.x) + 0.9;
            near.then(|| from.y.max(to.y))
        }
        Shape::Beam { corners: [a, b, c, d] } => {
            (a.x - 0.9 <= x && x <= b.x + 0.9).then(|| c.y.max(d.y))
        }
        _ => None,
    };
    marks.iter().filter_map(flipped).fold(f32::MIN, f32::max)
}

/// The highest thing that is drawn near `x`.
fn highest_near(marks: &[Mark], x: f32) -> f32 {
    let near = |left: f32, right: f32| left - 0.9 <= x && x <= right + 0.9;
    let top = |mark: &Mark| match &mark.shape {
        Shape::Glyph { glyph, origin, .. } => {
            near(origin.x, origin.x + glyph.width()).then(|| super::canvas::extent(&mark.shape).0)
        }
        Shape::Line { from, to, .. } if mark.ink == Ink::Music => {
            near(from.x.min(to.x), from.x.max(to.x)).then(|| from.y.min(to.y))
        }
        Shape::Beam { corners: [a, b, ..] } => near(a.x, b.x).then(|| a.y.min(b.y)),
        Shape::Tie { from, to, bulge } => near(from.x, to.x).then(|| from.y + bulge.min(0.0)),
        _ => None,
    };
    marks.iter().filter_map(top).fold(f32::MAX, f32::min)
}

fn tie(from: f32, to: f32, step: i32, down: bool, canvas: &mut Canvas) {
    let side = if down { 1.0 } else { -1.0 };
    let y = y_of(step) + side * 0.65;
    let to = to.max(from + 1.0);
    let bulge = side * ((to - from) * 0.2).clamp(0.45, 1.1);
    let end = |x: f32| Point { x, y };
    let shape = Shape::Tie { from: end(from), to: end(to), bulge };
    canvas.push(Mark { shape, ink: Ink::Music });
}

/// A rest, moved by `dy` from its usual place.
fn rest(written: &WrittenEvent, x: f32, dy: f32, canvas: &mut Canvas) {
    let Some(value) = written.value else { return };
    let (sign, y) = match value.name {
        "breve" => (Glyph::REST_BREVE, 2.0),
        "whole" => (Glyph::REST_WHOLE, 1.0),
        "half" => (Glyph::REST_HALF, 2.0),
        "quarter" => (Glyph::REST_QUARTER, 2.0),
        "eighth" => (Glyph::REST_EIGHTH, 2.0),
        _ => (Glyph::REST_16TH, 2.0),
    };
    canvas.push(glyph(sign, at(x, y + dy)));
    for n in 0..value.dots {
        let x = x + sign.width() + 0.3 + f32::from(n) * 0.65;
        canvas.push(glyph(Glyph::DOT, at(x, 1.5 + dy)));
    }
}
