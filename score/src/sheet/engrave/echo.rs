//! What was played, on a staff of its own under what was asked: heads only, at
//! the moments at which they were struck.

use super::super::accidentals::{Accidentals, Head};
use super::super::written::{Staff, step};
use super::canvas::Canvas;
use super::glyph::Glyph;
use super::heads::{Stack, y_of};
use super::mark::{Mark, at, glyph};
use super::{Engraver, StaffSystem, rules, signature, words};
use sinistra_core::pitch::KeyNumber;
use sinistra_core::time::Ticks;

/// A key that was struck, and where on the line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Echo {
    /// When, in the song.
    pub at: Ticks,
    /// The key.
    pub key: KeyNumber,
    /// Where, in spaces from the left: [`StaffSystem::x_of`] of the moment.
    pub x: f32,
    /// Drawn as a cross: it was not asked for.
    pub wrong: bool,
}

/// A staff of what was played.
#[derive(Clone, Debug, PartialEq)]
pub struct EchoStaff {
    /// Its top line is at 0.
    pub marks: Vec<Mark>,
    /// The middle of each head, as the echoes came.
    pub heads: Vec<(f32, f32)>,
    /// The highest and lowest thing drawn.
    pub reach: (f32, f32),
}

impl Engraver<'_> {
    /// Draws what was played on `staff`, as wide as `system`.
    #[must_use]
    pub fn echo(&self, system: &StaffSystem, staff: Staff, echoes: &[Echo]) -> EchoStaff {
        let start = if system.staves.len() > 1 { 1.8 } else { 0.0 };
        let mut canvas = Canvas::new(-0.2, 4.2);
        rules::staff(start, system.width, 0.0, &mut canvas);
        canvas.extend(signature::opening(staff, self.sheet.key, start));
        for (_, end) in &system.bars {
            rules::through(end - 0.08, 0.16, &[0.0], &mut canvas);
        }
        let mut accidentals = Accidentals::of(self.sheet.key);
        let mut bar = usize::MAX;
        let mut heads = Vec::new();
        let mut lows: Vec<f32> = Vec::new();
        for echo in echoes {
            let here = self.sheet.bars.partition_point(|bar| bar.at <= echo.at);
            if here != bar {
                accidentals.new_bar();
                bar = here;
            }
            let head: Head = self.sheet.head_of(echo.key, echo.at);
            let bar = here.checked_sub(1);
            let low = staff == Staff::Left && bar.is_some_and(|bar| self.is_low(bar, echo.at));
            if low {
                lows.push(echo.x);
            }
            let step = step(head, staff) + if low { 7 } else { 0 };
            let head_sign = if echo.wrong { Glyph::HEAD_CROSS } else { Glyph::HEAD_BLACK };
            let stack = Stack::single(step, true, head_sign);
            let x = echo.x - stack.head.width() / 2.0;
            stack.draw(x, 0.0, &mut canvas);
            if let Some(accidental) = accidentals.before(head).filter(|sign| !sign.courtesy) {
                let sign = Glyph::accidental(accidental.alter);
                canvas.push(glyph(sign, at(x - sign.width() - 0.2, y_of(step))));
            }
            heads.push((echo.x, y_of(step)));
        }
        if let Some((first, last)) = lows.first().zip(lows.last()) {
            words::octave_lower(first - 0.6, last + 0.6, &mut canvas);
        }
        EchoStaff { marks: canvas.marks, heads, reach: (canvas.top, canvas.bottom) }
    }

    /// Whether the left hand is printed an octave up in this bar, at this moment.
    fn is_low(&self, bar: usize, at: Ticks) -> bool {
        let Some(start) = self.sheet.bars.get(bar).map(|bar| bar.at) else { return false };
        let low = || self.written(Staff::Left, bar).iter().filter(|event| event.low);
        let from = low().map(|event| event.offset).min();
        let to = low().map(|event| event.offset + event.length).max();
        from.zip(to).is_some_and(|(from, to)| (from..to).contains(&(at - start).0))
    }
}
