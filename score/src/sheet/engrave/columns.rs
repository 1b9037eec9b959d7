//! The columns of a bar: what stands at one moment, and the springs between.

use super::super::written::Staff;
use super::EngraveOptions;
use super::hand::HandPieces;
use super::rules;
use super::space::{Spring, room};
use super::words;
use crate::sheet::{SheetBar, SheetChord};
use sinistra_core::time::Ticks;

/// Before the first column of a bar, and after the last.
const INTO_BAR: f32 = 0.9;
const OUT_OF_BAR: f32 = 0.5;
/// Between what stands in two columns.
const APART: f32 = 0.35;

/// Everything that stands at one moment.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Column {
    /// Ticks after the full bar's line.
    pub offset: i64,
    left: f32,
    right: f32,
    /// The width of the chord symbol over it.
    symbol: f32,
}

/// The columns of bar `index` of the system.
pub(super) fn of_bar(
    bar: &SheetBar,
    index: usize,
    hands: &[HandPieces],
    chords: &[SheetChord],
    options: &EngraveOptions,
) -> Vec<Column> {
    let mut columns: Vec<Column> = Vec::new();
    let mut stand = |offset: i64, left: f32, right: f32, symbol: f32| {
        let place = columns.partition_point(|column| column.offset < offset);
        if columns.get(place).is_none_or(|column| column.offset != offset) {
            columns.insert(place, Column { offset, ..Column::default() });
        }
        if let Some(column) = columns.get_mut(place) {
            column.left = column.left.max(left);
            column.right = column.right.max(right);
            column.symbol = column.symbol.max(symbol);
        }
    };
    let missing = bar.missing().0;
    stand(missing, 0.0, 0.0, 0.0);
    for hand in hands {
        for piece in hand.pieces.iter().filter(|piece| piece.bar == index) {
            let (written, stack) = (piece.written, &piece.stack);
            match stack {
                Some(stack) => {
                    let flag = stack.has_stem()
                        && stack.up
                        && written.beams.is_empty()
                        && written.value.is_some_and(|value| value.flags > 0);
                    let half = stack.head.width() / 2.0;
                    let under = if hand.staff == Staff::Left && !written.tied_from {
                        words::under_half(written, options.counts, options.roles)
                    } else {
                        0.0
                    };
                    let right = stack.right() + if flag { 1.0 } else { 0.0 };
                    let (left, right) = (stack.left() - stack.shift, right + stack.shift);
                    stand(written.offset, left.max(under - half), right.max(under + half), 0.0);
                }
                None if hand.rests(index) => {}
                None => stand(written.offset, 0.0, 1.3, 0.0),
            }
        }
    }
    if options.chords {
        for chord in chords {
            stand((chord.at - bar.at).0 + missing, 0.0, 0.0, words::symbol_width(chord));
        }
    }
    columns
}

/// The springs of a bar: into it, from column to column, out of it.
pub(super) fn springs(bar: &SheetBar, columns: &[Column], last: bool) -> Vec<Spring> {
    let end = (bar.end - bar.at + bar.missing()).0;
    let first = columns.first().map_or(0.0, |column| column.left);
    let mut springs = vec![Spring::rigid(INTO_BAR + first)];
    // What a chord symbol still needs before the next may come.
    let mut owed = 0.0_f32;
    for (n, column) in columns.iter().enumerate() {
        let next = columns.get(n + 1);
        let ticks = next.map_or(end, |next| next.offset) - column.offset;
        let wish = room(ticks.max(Ticks::PER_BEAT / 4));
        owed = owed.max(column.symbol);
        let mut least = match next {
            Some(next) => column.right + APART + next.left,
            None => column.right + OUT_OF_BAR + rules::closing_width(bar, last),
        };
        // A symbol at the end of a bar may not reach over the line.
        let meets = next.is_none_or(|next| next.symbol > 0.0);
        if meets {
            least = least.max(owed);
        }
        owed = if meets { 0.0 } else { owed - least };
        springs.push(Spring { least, wish });
    }
    springs
}
