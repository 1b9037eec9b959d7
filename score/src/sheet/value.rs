//! Note values: how a length is written at its place in the bar.
//!
//! Rules: common practice as in the handbooks of music engraving (E. Gould,
//! "Behind Bars", 2011, from memory): a value does not hide a place that is
//! stronger than the one it starts on; a quarter off the beat may cross a beat
//! (♪♩♪) but not the middle of the bar; rests hide no beat at all.

use super::grid::{BEAT, EIGHTH, HALF, strength};
use sinistra_core::time::{Metre, Ticks};

/// A single written value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Value {
    /// MusicXML 4.0 `note-type-value`.
    pub name: &'static str,
    pub dots: u8,
    /// Flags or beams: 1 for an eighth.
    pub flags: u8,
}

/// Lengths that a single head can have, in ticks.
const VALUES: &[(i64, Value)] = &[
    (240, Value { name: "16th", dots: 0, flags: 2 }),
    (480, Value { name: "eighth", dots: 0, flags: 1 }),
    (720, Value { name: "eighth", dots: 1, flags: 1 }),
    (960, Value { name: "quarter", dots: 0, flags: 0 }),
    (1440, Value { name: "quarter", dots: 1, flags: 0 }),
    (1920, Value { name: "half", dots: 0, flags: 0 }),
    (2880, Value { name: "half", dots: 1, flags: 0 }),
    (3840, Value { name: "whole", dots: 0, flags: 0 }),
    (5760, Value { name: "whole", dots: 1, flags: 0 }),
    (7680, Value { name: "breve", dots: 0, flags: 0 }),
];

/// The value of exactly `length`, if there is one.
pub(super) fn value(length: i64) -> Option<Value> {
    VALUES.iter().find(|(ticks, _)| *ticks == length).map(|(_, value)| *value)
}

/// How a length is written in a triplet: three in the time of two.
pub(super) const fn in_triplet(length: i64) -> Option<Value> {
    match length {
        160 => Some(Value { name: "16th", dots: 0, flags: 2 }),
        320 => Some(Value { name: "eighth", dots: 0, flags: 1 }),
        640 => Some(Value { name: "quarter", dots: 0, flags: 0 }),
        1280 => Some(Value { name: "half", dots: 0, flags: 0 }),
        _ => None,
    }
}

/// The lengths, one after another, in which a note is written that starts
/// `from` after the bar line and ends `until`; tied where there are several.
pub(super) fn note(metre: Metre, from: i64, until: i64) -> Vec<i64> {
    let mut pieces = Vec::new();
    split(metre, from, until, note_may, &mut pieces);
    pieces
}

/// The same for a rest.
pub(super) fn rest(metre: Metre, from: i64, until: i64) -> Vec<i64> {
    let mut pieces = Vec::new();
    split(metre, from, until, rest_may, &mut pieces);
    pieces
}

fn split(
    metre: Metre,
    from: i64,
    until: i64,
    may: fn(Metre, i64, i64) -> bool,
    pieces: &mut Vec<i64>,
) {
    if until <= from {
        return;
    }
    if value(until - from).is_some() && may(metre, from, until) {
        pieces.push(until - from);
        return;
    }
    let Some((_, at)) = strongest_inside(metre, from, until) else {
        pieces.push(until - from); // shorter than the finest value: kept whole
        return;
    };
    split(metre, from, at, may, pieces);
    split(metre, at, until, may, pieces);
}

/// The strongest place strictly inside, the first of equals.
fn strongest_inside(metre: Metre, from: i64, until: i64) -> Option<(u8, i64)> {
    let step = super::grid::FINEST;
    let first = (from / step + 1) * step;
    (0..).map(|n| first + n * step).take_while(|at| *at < until).fold(None, |best, at| {
        let here = strength(metre, at);
        match best {
            Some((strongest, _)) if strongest >= here => best,
            _ => Some((here, at)),
        }
    })
}

fn note_may(metre: Metre, from: i64, until: i64) -> bool {
    let Some((inside, _)) = strongest_inside(metre, from, until) else { return true };
    let start = strength(metre, from);
    let syncopated = !metre.is_compound()
        && match until - from {
            Ticks::PER_BEAT => start == EIGHTH && inside == BEAT,
            1920 => metre.bar().0 == 3840 && start == BEAT && inside == HALF,
            _ => false,
        };
    inside < start || (inside == start && inside <= BEAT) || syncopated
}

fn rest_may(metre: Metre, from: i64, until: i64) -> bool {
    let Some((inside, _)) = strongest_inside(metre, from, until) else { return true };
    let half_bar = metre.bar().0 == 3840 && until - from == 1920;
    inside < strength(metre, from) && (inside < BEAT || (half_bar && inside < HALF))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn metre(beats: u8, unit: u8) -> Metre {
        Metre::new(beats, unit).expect("a metre")
    }

    #[test]
    fn notes_do_not_hide_the_middle_of_the_bar() {
        for (beats, unit, from, until, pieces) in [
            (4, 4, 0, 3840, vec![3840]),
            (4, 4, 960, 2880, vec![1920]), // quarter, half, quarter
            (4, 4, 1440, 2400, vec![480, 480]), // over the middle: tied
            (4, 4, 480, 1440, vec![960]),  // eighth, quarter, eighth
            (4, 4, 960, 2400, vec![960, 480]), // dotted would hide beat 3
            (4, 4, 480, 3840, vec![480, 960, 1920]),
            (3, 4, 960, 2880, vec![1920]),
            (3, 4, 0, 1440, vec![1440]),
            (6, 8, 960, 1920, vec![480, 480]), // over the second dotted beat
            (6, 8, 480, 1440, vec![960]),
            (6, 8, 0, 2880, vec![2880]),
            (5, 4, 1920, 3840, vec![960, 960]), // 3 + 2
            (7, 8, 0, 1920, vec![1920]),
            (4, 4, 240, 960, vec![240, 480]),
        ] {
            assert_eq!(
                note(metre(beats, unit), from, until),
                pieces,
                "{beats}/{unit} {from}-{until}"
            );
        }
    }

    #[test]
    fn rests_hide_no_beat() {
        for (beats, unit, from, until, pieces) in [
            (4, 4, 1920, 3840, vec![1920]),
            (4, 4, 960, 2880, vec![960, 960]),
            (3, 4, 960, 2880, vec![960, 960]),
            (6, 8, 1440, 2880, vec![1440]),
            (4, 4, 480, 1920, vec![480, 960]),
        ] {
            assert_eq!(
                rest(metre(beats, unit), from, until),
                pieces,
                "{beats}/{unit} {from}-{until}"
            );
        }
    }
}
