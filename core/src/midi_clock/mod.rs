//! MIDI clock: where a sender's beat is, through its jitter, and a way to play along
//! that never jumps. All times in seconds, positions in quarter notes, and nothing
//! here reads a clock. Real-time safe.

#![cfg_attr(
    not(test),
    deny(clippy::indexing_slicing, clippy::cast_possible_truncation, clippy::cast_sign_loss)
)] // never panics

mod filter;
mod follow;
mod line;
mod steer;

pub use follow::{A_BEAT, ClockChange, ClockIn};
pub use line::TempoLine;
pub use steer::Steer;
