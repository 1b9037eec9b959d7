//! Runs the stage against real time.

mod guard;
mod player;
#[cfg(test)]
mod real_time_test;
mod thread;

pub use guard::{After, Guard};
pub use player::{Links, Look, Player, links};
pub use thread::{Job, Routes, spawn};
