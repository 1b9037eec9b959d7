//! Pattern files: what a left hand does, written in TOML in the count of the
//! trade.
//!
//! ```toml
//! name = "Root and fifth"
//! about = "The fifth answers the root."
//!
//! [[bar]]
//! metre = "4/4"
//! count = "1    &    2     &    3    &    4     &"
//! play  = "root -    fifth -    root -    fifth lead/root"
//! ```
//!
//! `count` names the places of the bar, `play` what may sound at each: wishes
//! ([`sinistra_core::play::Wish`]) joined by `/`, the dearest first.
//!
//! | written | means |
//! |---|---|
//! | `root+fifth+octave-up` | struck together, from the lowest up |
//! | `-` | nothing new is struck: what sounds goes on |
//! | `_` | the note before is held on through this place (a tie) |
//! | `rest` | silence: what the voice sounds ends here |
//! | `root.` `root_` | detached; joined to the next note of its voice |
//! | `root:2` `root:1.5` | held for so many counts |
//! | `root:change` | held until the chord changes |
//! | `>root` | accented |
//! | `~root+fifth+tenth` | rolled from below |
//!
//! A row `bass` makes two voices: it is played below `play`, which then finds its
//! place above it. A stroke wider than the hand is rolled, unless `rolls = false`
//! stands above the bars: then what the hand does not reach is left out.
//!
//! `draws = ["stride", "walking-bass"]` makes a style: the free hand draws from these
//! left hands of the library (and from bars of its own), phrase by phrase.
//!
//! `|` divides bars where a pattern is longer than one. More than one `[[bar]]`
//! of a metre are variations; each phrase of four bars has one of them. A metre
//! that is not written is played as the nearest that is. `fill` (without it,
//! `root`) is what a busier hand adds between the written places.

mod count;
mod file;
#[cfg(test)]
mod file_test;
mod keep;
#[cfg(test)]
mod language_test;
mod presets;
mod row;
mod voices;
mod word;

pub use file::{PatternBar, PatternFile};
pub use presets::{PatternCard, PatternPreset, USUAL_PATTERN, find_pattern, pattern_presets};
