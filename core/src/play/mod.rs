//! Play: pattern (when) + ruleset (which tone) + voicing (which key).
//!
//! Pure decisions on fixed storage; nothing here allocates, locks or panics
//! once a [`Pattern`] is built.

mod hand;
mod moment;
mod pattern;
mod role;
mod stroke;
mod wish;

pub use hand::LeftHand;
pub use moment::Moment;
pub use pattern::{Pattern, Slot, SlotAt};
pub use role::Role;
pub use stroke::{Note, Stroke};
pub use wish::{Wish, Wishes};
