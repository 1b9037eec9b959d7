//! The practice room: hear it, play it together, play it alone, be told.

pub mod instruments;
pub mod judge;
pub mod live;
pub mod news;
pub mod pedals;
pub mod progress;
pub mod recorder;
pub mod session;
pub mod sheets;
pub mod windowed;
pub mod wiring;
