//! How far two fingers reach: the published table.

use sinistra_core::pitch::KeyNumber;

/// Spans of a pair of fingers in semitones; negative: the thumb passes under.
#[derive(Clone, Copy, Debug)]
pub(super) struct Reach {
    pub least_practical: i32,
    pub least_comfortable: i32,
    pub least_relaxed: i32,
    pub most_relaxed: i32,
    pub most_comfortable: i32,
    pub most_practical: i32,
}

const fn reach(row: [i32; 6]) -> Reach {
    let [
        least_practical,
        least_comfortable,
        least_relaxed,
        most_relaxed,
        most_comfortable,
        most_practical,
    ] = row;
    Reach {
        least_practical,
        least_comfortable,
        least_relaxed,
        most_relaxed,
        most_comfortable,
        most_practical,
    }
}

/// Source: R. Parncutt, J. A. Sloboda, E. F. Clarke, M. Raekallio & P. Desain,
/// "An Ergonomic Model of Keyboard Fingering for Melodic Fragments", Music
/// Perception 14(4), 1997, Table 1 (right hand; the left is its mirror).
/// Numbers from public copies, not the print.
#[rustfmt::skip]
const SPANS: [((u8, u8), Reach); 10] = [
    //                MinPrac MinComf MinRel MaxRel MaxComf MaxPrac
    ((1, 2), reach([-5, -3, 1,  5,  8, 10])),
    ((1, 3), reach([-4, -2, 3,  7, 10, 12])),
    ((1, 4), reach([-3, -1, 5,  9, 12, 14])),
    ((1, 5), reach([-1,  1, 7, 11, 13, 15])),
    ((2, 3), reach([ 1,  1, 1,  2,  3,  5])),
    ((2, 4), reach([ 1,  1, 3,  4,  5,  7])),
    ((2, 5), reach([ 2,  2, 5,  6,  8, 10])),
    ((3, 4), reach([ 1,  1, 1,  2,  2,  4])),
    ((3, 5), reach([ 1,  1, 3,  4,  5,  7])),
    ((4, 5), reach([ 1,  1, 1,  2,  3,  5])),
];

pub(super) fn is_black(key: KeyNumber) -> bool {
    matches!(key.class().index(), 1 | 3 | 6 | 8 | 10)
}

/// The reach between two different fingers, the smaller number first.
pub(super) fn between(inner: u8, outer: u8) -> Option<Reach> {
    SPANS.iter().find(|(pair, _)| *pair == (inner, outer)).map(|(_, reach)| *reach)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_keeps_the_rules_that_its_authors_made_it_by() {
        for ((inner, outer), r) in SPANS {
            assert_eq!(r.most_practical - r.most_comfortable, 2, "{inner}-{outer}");
            let thumb = inner == 1;
            assert_eq!(r.least_comfortable - r.least_practical, if thumb { 2 } else { 0 });
            if !thumb {
                assert_eq!(r.most_relaxed, 2 * i32::from(outer - inner));
            }
        }
    }
}
