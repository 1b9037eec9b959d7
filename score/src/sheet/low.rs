//! Very low bars are printed an octave higher than they sound, over an 8vb
//! (common practice as in the handbooks of music engraving: E. Gould, "Behind
//! Bars", 2011, from memory: rather than more than three ledger lines, and
//! over a passage, not over single notes).

use super::written::{Staff, WrittenEvent, step};

/// Steps below the middle line of the bass staff: F1, over three ledger lines.
const TOO_LOW: i32 = -12;
/// Printed an octave up, this is on the second ledger line above: E3.
const HIGHEST: i32 = 1;

/// Whether a bar of the left hand is to be printed so.
pub(super) fn is_low(events: &[WrittenEvent]) -> bool {
    let steps = || {
        let heads = events.iter().flat_map(|event| &event.notes).map(|note| note.head);
        heads.map(|head| step(head, Staff::Left))
    };
    // A tie over the bar line keeps its head where it was.
    let tied = events.first().is_some_and(|event| event.tied_from)
        || events.last().is_some_and(|event| event.tied_on);
    !tied && steps().any(|step| step <= TOO_LOW) && steps().all(|step| step <= HIGHEST)
}
