//! What a note is to its chord, in as few letters as a page has room for.

use sinistra_core::play::Role;

/// A role in as few letters as a line of music has room for; see [`LEGEND`].
pub const fn short(role: Role) -> &'static str {
    match role {
        Role::Root => "R",
        Role::Third => "3",
        Role::Fifth => "5",
        Role::Seventh => "7",
        Role::Sixth => "6",
        Role::Ninth => "9",
        Role::Octave => "8",
        Role::Bass => "B",
        Role::Passing => "P",
    }
}

/// Printed at the foot of the first page.
pub const LEGEND: &str = "Under the notes: the count; then R root, 3 5 6 7 9 tone of the chord, \
     8 octave, B bass after the slash, P passing note. \
     Above the left hand: fingers; \u{2192} the hand moves.";
