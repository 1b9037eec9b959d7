//! Controls under the hands: what a key, pedal, dial or program does.

mod action;
mod map;
mod trigger;

pub use action::Action;
pub use map::{Map, Mapping, Move};
pub use trigger::{NUMBERS, Trigger};
