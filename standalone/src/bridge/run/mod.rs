//! Runs the stage against real time.

mod guard;
mod player;
mod thread;

pub use guard::{After, Guard};
pub use player::{Links, Look, Player, links};
pub use thread::{Job, Routes, spawn};
