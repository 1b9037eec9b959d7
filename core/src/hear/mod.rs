//! Hear: held keys and pedals become the chord that is held, and the key.
#![cfg_attr(
    not(test),
    deny(clippy::indexing_slicing, clippy::cast_possible_truncation, clippy::cast_sign_loss)
)] // never panics

mod ear;
mod expected;
mod hearing;
mod naming;
mod tonality;

pub use crate::midi::HeldKeys;
pub use ear::Ear;
pub use expected::{AheadOdds, Expected};
pub use hearing::Hearing;
pub use naming::{Context, Naming, classes, name, name_keys};
pub use tonality::Tonality;
