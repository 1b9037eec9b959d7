//! Very low passages are printed an octave higher than they sound, over an 8vb
//! (common practice as in the handbooks of music engraving: E. Gould, "Behind
//! Bars", 2011, from memory: rather than more than three ledger lines, and
//! over a passage, not over single notes).

use super::written::{Layer, Staff, WrittenEvent, step};

/// Steps below the middle line of the bass staff: F1, over three ledger lines.
const TOO_LOW: i32 = -12;
/// Printed an octave up, this is on the second ledger line above: E3.
const HIGHEST: i32 = 1;
/// A note from here up is read as easily where it is: E2, on the first ledger line.
const READABLE: i32 = -6;

/// Marks in the bars of the left hand what is to be printed so: whole bars, but for what
/// is read easily before the first low note of a passage and after its last.
pub(super) fn mark(bars: &mut [Vec<WrittenEvent>]) {
    let low: Vec<bool> = bars.iter().map(|bar| is_low(bar)).collect();
    let is_low = |index: Option<usize>| index.and_then(|n| low.get(n)).copied().unwrap_or(false);
    for (index, bar) in bars.iter_mut().enumerate() {
        if !is_low(Some(index)) {
            continue;
        }
        let (mut first, mut last) = (0, bar.len());
        if bar.iter().all(|event| event.layer == Layer::Only) {
            if !is_low(index.checked_sub(1)) {
                first = bar.iter().position(|event| !is_readable(event)).unwrap_or(0);
            }
            if !is_low(Some(index + 1)) {
                last = bar.iter().rposition(|event| !is_readable(event)).map_or(last, |n| n + 1);
            }
        }
        // A tie keeps its head where it was.
        while bar.get(first).is_some_and(|event| event.tied_from) {
            first = first.saturating_sub(1);
        }
        while bar.get(last).is_some_and(|event| event.tied_from) {
            last += 1;
        }
        bar.iter_mut().take(last).skip(first).for_each(|event| event.low = true);
    }
}

fn steps(event: &WrittenEvent) -> impl Iterator<Item = i32> + '_ {
    event.notes.iter().map(|note| step(note.head, Staff::Left))
}

fn is_readable(event: &WrittenEvent) -> bool {
    steps(event).all(|step| step >= READABLE)
}

/// Whether something in a bar of the left hand is to be printed so.
fn is_low(events: &[WrittenEvent]) -> bool {
    let steps = || events.iter().flat_map(steps);
    // A tie over the bar line keeps its head where it was.
    let tied = events.first().is_some_and(|event| event.tied_from)
        || events.last().is_some_and(|event| event.tied_on);
    !tied && steps().any(|step| step <= TOO_LOW) && steps().all(|step| step <= HIGHEST)
}
