//! Runs the stage against real time.

mod guard;
mod player;
#[cfg(test)]
mod real_time_test;
mod thread;

pub use guard::{After, Guard, keep_failures, last_failure};
pub use player::{Links, Look, Player, links};
pub use thread::{Job, Routes, spawn};
