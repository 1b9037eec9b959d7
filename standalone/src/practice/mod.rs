//! The practice room: hear it, play it together, play it alone, be told.

pub mod judge;
pub mod ladder;
pub mod live;
pub mod progress;
pub mod round;
pub mod session;
pub mod sheets;
pub mod steps;
