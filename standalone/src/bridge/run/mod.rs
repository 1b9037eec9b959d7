//! The stage with its links to the free world, and what happens when it fails.

mod guard;
mod player;
#[cfg(test)]
mod real_time_test;

pub use guard::{After, Guard, keep_failures, last_failure};
pub use player::{Links, Look, PassedMessage, StagePlayer, links};
