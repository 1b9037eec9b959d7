//! The heads of one stroke: where each stands, which way the stem goes,
//! accidentals, dots and ledger lines.

use super::super::accidentals::Accidental;
use super::super::written::{Layer, Staff, WrittenEvent, step};
use super::canvas::Canvas;
use super::glyph::{Glyph, LEDGER_LINE, LEDGER_REACH};
use super::mark::{Ink, Mark, ROLL, ROLL_WAVE, Shape, at, glyph, line};

/// The steps of a stroke as it is printed, from low to high.
pub(super) fn steps(event: &WrittenEvent, staff: Staff) -> Vec<i32> {
    let up = if event.low { 7 } else { 0 };
    event.notes.iter().map(|note| step(note.head, staff) + up).collect()
}

/// Spaces below the top line.
pub(super) fn y_of(step: i32) -> f32 {
    2.0 - step as f32 / 2.0
}

/// Stem up for these steps? The note farthest from the middle line decides;
/// down if both are as far.
pub(super) fn stem_up(steps: impl IntoIterator<Item = i32>) -> bool {
    let (mut low, mut high) = (0, 0);
    for step in steps {
        (low, high) = (low.min(step), high.max(step));
    }
    -low > high
}

/// A stroke of heads, ready to be put at its column.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Stack {
    /// From low to high.
    pub steps: Vec<i32>,
    pub up: bool,
    pub head: Glyph,
    /// x of each head from where it stands, 0 on the stem's usual side.
    pub xs: Vec<f32>,
    /// The lowest and highest step of what is rolled here, in both voices.
    pub rolled: Option<(i32, i32)>,
    /// x of each accidental, with its step.
    pub accidentals: Vec<(f32, Accidental, i32)>,
    pub dots: u8,
    /// x behind which the dots stand.
    pub dots_from: f32,
    /// The dots of heads on lines stand below them, not above.
    pub dots_below: bool,
    /// How far all of it stands to the right of its column.
    pub shift: f32,
}

/// Between heads and what stands before or after them.
pub(super) const CLEARANCE: f32 = 0.25;
/// Between the sign of a roll and what stands after it: more than a ledger line reaches.
const BESIDE_ROLL: f32 = LEDGER_REACH + 0.15;

impl Stack {
    /// One head without anything at it.
    pub fn single(step: i32, up: bool, head: Glyph) -> Self {
        Self {
            steps: vec![step],
            up,
            head,
            xs: vec![0.0],
            rolled: None,
            accidentals: Vec::new(),
            dots: 0,
            dots_from: head.width(),
            dots_below: false,
            shift: 0.0,
        }
    }

    /// `up` is the stem's way where a beam decides it.
    pub fn of(event: &WrittenEvent, staff: Staff, up: Option<bool>) -> Self {
        let steps = steps(event, staff);
        let up = up.unwrap_or_else(|| stem_up(steps.iter().copied()));
        let head = match event.value.map(|value| value.name) {
            Some("breve") => Glyph::HEAD_BREVE,
            Some("whole") => Glyph::HEAD_WHOLE,
            Some("half") => Glyph::HEAD_HALF,
            _ => Glyph::HEAD_BLACK,
        };
        let xs = displaced(&steps, up, head.width());
        let left = xs.iter().copied().fold(0.0, f32::min);
        let marked = event.notes.iter().zip(&steps);
        let marked = marked.filter_map(|(note, step)| Some((note.accidental?, *step)));
        let accidentals = accidentals(&marked.collect::<Vec<_>>(), left);
        let dots = event.value.map_or(0, |value| value.dots);
        let dots_below = event.layer == Layer::Lower;
        let ends = steps.first().copied().zip(steps.last().copied());
        let rolled = ends.filter(|_| event.wide);
        let (dots_from, shift) = (0.0, 0.0);
        let mut stack =
            Self { steps, up, head, xs, rolled, accidentals, dots, dots_from, dots_below, shift };
        stack.dots_from = stack.heads_end();
        stack
    }

    /// Whether it has a stem.
    pub fn has_stem(&self) -> bool {
        matches!(self.head, Glyph::HEAD_BLACK | Glyph::HEAD_HALF)
    }

    pub fn lowest(&self) -> i32 {
        self.steps.first().copied().unwrap_or(0)
    }

    pub fn highest(&self) -> i32 {
        self.steps.last().copied().unwrap_or(0)
    }

    /// x of the leftmost head's left edge.
    pub fn heads_start(&self) -> f32 {
        self.xs.iter().copied().fold(0.0, f32::min)
    }

    /// x of the rightmost head's right edge.
    pub fn heads_end(&self) -> f32 {
        self.xs.iter().copied().fold(0.0, f32::max) + self.head.width()
    }

    /// How far it reaches to the left of where it stands (positive).
    pub fn left(&self) -> f32 {
        self.signed_left() + self.rolled.map_or(0.0, |_| BESIDE_ROLL + 2.0 * ROLL_WAVE + ROLL)
    }

    /// The same, without the sign that it is rolled, which comes before all else.
    fn signed_left(&self) -> f32 {
        let heads = self.heads_start();
        -self.accidentals.iter().map(|accidental| accidental.0).fold(heads, f32::min)
    }

    /// How far it reaches to the right of where it stands.
    pub fn right(&self) -> f32 {
        match self.dots {
            0 => self.heads_end(),
            dots => self.dots_from + f32::from(dots) * (CLEARANCE + Glyph::DOT.width()),
        }
    }

    /// Heads, accidentals, dots and ledger lines with the column at `x` and
    /// the staff's top line at `top`.
    pub fn draw(&self, x: f32, top: f32, canvas: &mut Canvas) {
        self.ledgers(x, top, canvas);
        for (step, dx) in self.steps.iter().zip(&self.xs) {
            canvas.push(glyph(self.head, at(x + dx, top + y_of(*step))));
        }
        for (dx, accidental, step) in &self.accidentals {
            let (mut x, y) = (x + dx, top + y_of(*step));
            let sign = Glyph::accidental(accidental.alter);
            if accidental.courtesy {
                canvas.push(glyph(Glyph::PARENTHESIS_LEFT, at(x, y)));
                x += Glyph::PARENTHESIS_LEFT.width();
            }
            canvas.push(glyph(sign, at(x, y)));
            if accidental.courtesy {
                canvas.push(glyph(Glyph::PARENTHESIS_RIGHT, at(x + sign.width(), y)));
            }
        }
        if let Some((low, high)) = self.rolled {
            let middle = x - self.signed_left() - BESIDE_ROLL - ROLL_WAVE - ROLL / 2.0;
            // As tall as the heads.
            let (from, to) = (y_of(high) - 0.5, y_of(low) + 0.5);
            let shape = Shape::Roll { top: at(middle, top + from), height: to - from };
            canvas.push(Mark { shape, ink: Ink::Music });
        }
        for y in dot_places(&self.steps, self.dots_below) {
            for n in 0..self.dots {
                let dx =
                    self.dots_from + CLEARANCE + f32::from(n) * (CLEARANCE + Glyph::DOT.width());
                canvas.push(glyph(Glyph::DOT, at(x + dx, top + y)));
            }
        }
    }

    fn ledgers(&self, x: f32, top: f32, canvas: &mut Canvas) {
        for step in ledger_steps(self.lowest(), self.highest()) {
            // As far as there are heads at this line or beyond it.
            let beyond = |s: i32| if step > 0 { s >= step } else { s <= step };
            let xs = self.steps.iter().zip(&self.xs).filter(|(s, _)| beyond(**s)).map(|(_, x)| *x);
            let (left, right) = xs.fold((f32::MAX, f32::MIN), |(l, r), x| (l.min(x), r.max(x)));
            let (left, right) = (left - LEDGER_REACH, right + self.head.width() + LEDGER_REACH);
            let y = top + y_of(step);
            canvas.push(line(at(x + left, y), at(x + right, y), LEDGER_LINE, Ink::Rule));
        }
    }
}

/// The ledger lines for heads from `lowest` to `highest`.
pub(super) fn ledger_steps(lowest: i32, highest: i32) -> Vec<i32> {
    let above = (6..=highest).filter(|step| step % 2 == 0);
    let below = (lowest..=-6).filter(|step| step % 2 == 0);
    above.chain(below).collect()
}

/// Of two a second apart one stands on the other side of the stem.
fn displaced(steps: &[i32], up: bool, width: f32) -> Vec<f32> {
    let mut xs = vec![0.0; steps.len()];
    let order: Vec<usize> =
        if up { (0..steps.len()).collect() } else { (0..steps.len()).rev().collect() };
    let mut last: Option<(i32, bool)> = None;
    for index in order {
        let Some(step) = steps.get(index) else { continue };
        let moved = last.is_some_and(|(before, moved)| (step - before).abs() < 2 && !moved);
        if moved && let Some(x) = xs.get_mut(index) {
            *x = if up { width } else { -width };
        }
        last = Some((*step, moved));
    }
    xs
}

/// Accidentals from the highest down, each as near to the heads as the others
/// allow.
pub(super) fn accidentals(marked: &[(Accidental, i32)], left: f32) -> Vec<(f32, Accidental, i32)> {
    let mut columns: Vec<(i32, f32)> = Vec::new(); // the lowest step of each, its width
    let mut placed: Vec<(usize, Accidental, i32)> = Vec::new();
    for (accidental, step) in marked.iter().rev() {
        let width = width_of(*accidental);
        let free = columns.iter().position(|(low, _)| low - step >= 6);
        let column = free.unwrap_or(columns.len());
        match columns.get_mut(column) {
            Some(entry) => *entry = (*step, entry.1.max(width)),
            None => columns.push((*step, width)),
        }
        placed.push((column, *accidental, *step));
    }
    let x = |column: usize, accidental: Accidental| {
        let before: f32 = columns.iter().take(column).map(|c| c.1 + 0.1).sum();
        left - CLEARANCE - before - width_of(accidental)
    };
    placed.into_iter().map(|(column, sign, step)| (x(column, sign), sign, step)).collect()
}

fn width_of(accidental: Accidental) -> f32 {
    let sign = Glyph::accidental(accidental.alter).width();
    let around = Glyph::PARENTHESIS_LEFT.width() + Glyph::PARENTHESIS_RIGHT.width();
    sign + if accidental.courtesy { around } else { 0.0 }
}

/// Dots stand in spaces, each in one of its own: of heads on lines in the space above,
/// or `below`.
fn dot_places(steps: &[i32], below: bool) -> Vec<f32> {
    let side = if below { -1 } else { 1 };
    let mut order = steps.to_vec();
    order.sort_by_key(|step| -side * step);
    let mut taken: Vec<i32> = Vec::new();
    for step in order {
        let space = if step % 2 == 0 { step + side } else { step };
        let free = [space, space - 2 * side].into_iter().find(|space| !taken.contains(space));
        if let Some(space) = free {
            taken.push(space);
        }
    }
    taken.into_iter().map(y_of).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sheet::accidentals::Head;
    use sinistra_core::pitch::{KeyNumber, Letter, Spelled};

    #[test]
    fn middle_c_stands_a_line_below_the_treble_and_a_line_above_the_bass() {
        let c4 = Head::of(KeyNumber::MIDDLE_C, Spelled::new(Letter::C, 0));
        assert_eq!((step(c4, Staff::Right), step(c4, Staff::Left)), (-6, 6));
        assert_eq!(ledger_steps(-6, -6), [-6]);
        let e2 = Head::of(KeyNumber::clamped(40), Spelled::new(Letter::E, 0));
        assert_eq!(step(e2, Staff::Left), -6); // E2 hangs on a ledger line below
        assert_eq!(ledger_steps(-9, -6), [-8, -6]);
        assert!(ledger_steps(-5, 5).is_empty());
    }

    #[test]
    fn the_note_farthest_from_the_middle_turns_the_stem() {
        for (steps, up) in [
            (vec![0], false), // on the middle line: down
            (vec![-1], true),
            (vec![1], false),
            (vec![-4, 3], true), // a chord: its lowest is farther
            (vec![-3, 4], false),
            (vec![-3, 3], false), // as far: down
        ] {
            assert_eq!(stem_up(steps.clone()), up, "{steps:?}");
        }
    }

    #[test]
    fn seconds_stand_on_both_sides_of_the_stem() {
        assert_eq!(displaced(&[-4, -3, 0], true, 1.0), [0.0, 1.0, 0.0]);
        assert_eq!(displaced(&[0, 3, 4], false, 1.0), [0.0, -1.0, 0.0]);
        assert_eq!(displaced(&[-2, -1, 0], true, 1.0), [0.0, 1.0, 0.0]);
    }

    #[test]
    fn accidentals_close_together_do_not_overlap() {
        // F♯ and A♭ a third apart: two columns; a seventh apart: one.
        let sign = |alter| Accidental { alter, courtesy: false };
        let close = accidentals(&[(sign(1), -3), (sign(-1), -1)], 0.0);
        assert!(close[1].0 + Glyph::accidental(1).width() <= close[0].0 + 1e-5, "{close:?}");
        let wide = accidentals(&[(sign(1), -3), (sign(1), 3)], 0.0);
        assert!((wide[0].0 - wide[1].0).abs() < 1e-5);
    }

    #[test]
    fn dots_stand_in_the_space_above_a_line() {
        assert_eq!(dot_places(&[-4], false), [y_of(-3)]);
        assert_eq!(dot_places(&[-3], false), [y_of(-3)]);
        // A second: the two dots do not share a space.
        assert_eq!(dot_places(&[-4, -3], false), [y_of(-3), y_of(-5)]);
        // The lower of two voices: below.
        assert_eq!(dot_places(&[-4, -2], true), [y_of(-5), y_of(-3)]);
        assert_eq!(dot_places(&[-4, -3], true), [y_of(-5), y_of(-3)]);
    }
}
