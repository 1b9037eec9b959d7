//! Play: pattern (when) + ruleset (which tone) + voicing (which key).
//!
//! Pure decisions on fixed storage; nothing here allocates, locks or panics
//! once a [`Pattern`] is built.
#![cfg_attr(
    not(test),
    deny(clippy::indexing_slicing, clippy::cast_possible_truncation, clippy::cast_sign_loss)
)] // never panics

pub mod accent;
mod adapt;
mod ahead;
mod dynamics;
pub mod free;
mod hand;
mod lead;
pub mod limits;
mod moment;
mod part;
mod pattern;
mod phrase;
mod reach;
mod role;
mod room;
mod scale;
mod slot;
mod stack;
mod stroke;
mod style;
pub mod swing;
mod tenor;
pub mod tones;
pub mod touch;
mod walk;
mod why;
mod wish;
mod written;

pub use free::FreeHand;
pub use hand::LeftHand;
pub use moment::Moment;
pub use part::{Held, Part, Parts, Tones, Voice};
pub use pattern::Pattern;
pub use role::Role;
pub use scale::Scale;
pub use slot::{Slot, SlotAt, SlotView};
pub use stroke::{Note, Stroke};
pub use why::{FigureOf, Heard, Rule, Why};
pub use wish::{Wish, Wishes};
pub use written::WrittenBars;
