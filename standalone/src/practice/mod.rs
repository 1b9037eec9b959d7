//! The practice room: hear it, play it together, play it alone, be told.

pub mod instruments;
pub mod judge;
pub mod ladder;
pub mod live;
pub mod news;
pub mod pedals;
pub mod progress;
pub mod recorder;
pub mod round;
pub mod session;
pub mod sheets;
pub mod steps;
pub mod windowed;
pub mod wiring;
