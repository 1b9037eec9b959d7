//! Draws a sheet: systems of staves as signs, lines and words, for a window or
//! a page, laid out from what is written and not from a file format.

mod canvas;
mod columns;
mod echo;
pub mod glyph;
mod hand;
mod heads;
pub mod mark;
mod page;
mod rules;
mod signature;
mod space;
mod stems;
mod system;
mod voices;
mod words;

use std::borrow::Cow;
use std::ops::Range;

pub use echo::{Echo, EchoStaff};
pub use glyph::Glyph;
pub use mark::{Align, Face, Ink, Mark, Point, Shape};
pub(super) use page::usual_breaks;
pub use page::{Layout, Page, Paper, pages, words as words_on_pages};

use super::written::{HandPart, Staff, WrittenEvent};
use super::{Sheet, SheetBar, sections};
use sinistra_core::pitch::KeyNumber;
use sinistra_core::time::Ticks;

/// What of a sheet is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct EngraveOptions {
    /// The staves, from the top: one or both.
    pub staves: &'static [Staff],
    /// Chord symbols above.
    pub chords: bool,
    /// Counts below the left hand.
    pub counts: bool,
    /// What each note of the left hand is to its chord.
    pub roles: bool,
    /// Fingers over the left hand.
    pub fingers: bool,
    /// Why the left hand plays as it does, where the sheet has it.
    pub reasons: bool,
}

impl EngraveOptions {
    /// Both hands with everything.
    pub const ALL: Self = Self {
        staves: &[Staff::Right, Staff::Left],
        chords: true,
        counts: true,
        roles: true,
        fingers: true,
        reasons: true,
    };
}

/// A line of music, drawn. The top line of its first staff is at y 0.
#[derive(Clone, Debug, PartialEq)]
pub struct StaffSystem {
    /// Spaces from the left of the staves to their right.
    pub width: f32,
    /// The highest thing drawn; negative.
    pub top: f32,
    /// The lowest thing drawn.
    pub bottom: f32,
    /// Everything that is drawn.
    pub marks: Vec<Mark>,
    /// Moments and where they are, in order; the last is the end.
    pub columns: Vec<(Ticks, f32)>,
    /// Heads of both hands.
    pub heads: Vec<PlacedHead>,
    /// The y of each staff's top line.
    pub staves: Vec<(Staff, f32)>,
    /// Where each bar starts and ends.
    pub bars: Vec<(f32, f32)>,
}

/// A head and where its middle is.
#[derive(Clone, Copy, Debug, PartialEq)]
#[allow(missing_docs, reason = "their names say it")]
pub struct PlacedHead {
    pub staff: Staff,
    /// When its note is struck.
    pub at: Ticks,
    pub key: KeyNumber,
    pub x: f32,
    pub y: f32,
    /// Not where a tie goes on.
    pub struck: bool,
}

impl StaffSystem {
    /// From the highest to the lowest thing drawn, spaces.
    #[must_use]
    pub fn height(&self) -> f32 {
        self.bottom - self.top
    }

    /// Where the moment `at` is, between columns in proportion.
    #[must_use]
    pub fn x_of(&self, at: Ticks) -> f32 {
        let after = self.columns.partition_point(|column| column.0 <= at);
        let before = after.checked_sub(1).and_then(|index| self.columns.get(index));
        match (before, self.columns.get(after)) {
            (Some((t0, x0)), Some((t1, x1))) => {
                x0 + (x1 - x0) * (at - *t0).0 as f32 / ((*t1 - *t0).0.max(1)) as f32
            }
            (Some((_, x)), None) | (None, Some((_, x))) => *x,
            (None, None) => 0.0,
        }
    }
}

/// A sheet, written out and ready to be drawn in any number of ways.
pub struct Engraver<'a> {
    sheet: Cow<'a, Sheet>,
    right: Vec<Vec<WrittenEvent>>,
    left: Vec<Vec<WrittenEvent>>,
    /// The letter and name of the section that starts at each bar.
    sections: Vec<Option<(String, String)>>,
}

impl Engraver<'static> {
    /// Writes `sheet` out and keeps it.
    #[must_use]
    pub fn keeping(sheet: Sheet) -> Self {
        Self::of(Cow::Owned(sheet))
    }
}

impl<'a> Engraver<'a> {
    /// Writes `sheet` out.
    #[must_use]
    pub fn new(sheet: &'a Sheet) -> Self {
        Self::of(Cow::Borrowed(sheet))
    }

    fn of(sheet: Cow<'a, Sheet>) -> Self {
        let written = |staff| HandPart::of(&sheet, staff).bars(&sheet);
        let (right, left) = (written(Staff::Right), written(Staff::Left));
        let sections = sections::marks(&sheet.bars);
        Self { sheet, right, left, sections }
    }

    /// The sheet.
    #[must_use]
    pub fn sheet(&self) -> &Sheet {
        &self.sheet
    }

    /// Draws the bars of these indices on one line, `width` spaces wide;
    /// `None` gives them the room that they like best.
    #[must_use]
    pub fn system(
        &self,
        bars: Range<usize>,
        width: Option<f32>,
        options: &EngraveOptions,
    ) -> StaffSystem {
        system::draw(self, bars, width, options)
    }

    fn written(&self, staff: Staff, bar: usize) -> &[WrittenEvent] {
        let hand = match staff {
            Staff::Right => &self.right,
            Staff::Left => &self.left,
        };
        hand.get(bar).map_or(&[], Vec::as_slice)
    }

    fn bars(&self, bars: Range<usize>) -> &[SheetBar] {
        let end = bars.end.min(self.sheet.bars.len());
        self.sheet.bars.get(bars.start.min(end)..end).unwrap_or(&[])
    }
}

#[cfg(test)]
mod tests;
