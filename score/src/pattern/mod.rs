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
//! ([`sinistra_core::play::Wish`]) joined by `/`, the dearest first, or `-` for a rest.
//! `|` divides bars where a pattern is longer than one. More than one `[[bar]]`
//! of a metre are variations; each phrase of four bars has one of them. A metre
//! that is not written is played as the nearest that is. `fill` (without it,
//! `root`) is what a busier hand adds between the written places.

mod count;
mod file;
mod presets;
mod row;

pub use file::{PatternBar, PatternFile};
pub use presets::{PatternPreset, USUAL_PATTERN, find_pattern, pattern_presets};
