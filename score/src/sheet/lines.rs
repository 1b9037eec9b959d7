//! Where a line of the page ends.

use super::{Sheet, SheetBar};

/// Bars that start a line: up to four of them on one, fewer where the left
/// hand is busy, so that counts and roles have room; `left` is when the left
/// hand strikes, in ticks.
pub(super) fn line_breaks(sheet: &Sheet, left: &[i64]) -> Vec<usize> {
    let busy = |bar: &SheetBar| {
        let from = left.partition_point(|at| *at < bar.at.0);
        let to = left.partition_point(|at| *at < bar.end.0);
        (to - from).max(3)
    };
    let mut breaks = Vec::new();
    let (mut on_line, mut strokes) = (0, 0);
    for (index, bar) in sheet.bars.iter().enumerate() {
        let busy = busy(bar);
        if on_line == 4 || strokes + busy > 18 {
            breaks.push(index);
            (on_line, strokes) = (0, 0);
        }
        // A pick-up does not count as a bar of the line.
        on_line += usize::from(bar.number != 0);
        strokes += busy;
    }
    breaks
}
