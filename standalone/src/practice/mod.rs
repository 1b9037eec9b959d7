//! The practice room: hear it, play it together, play it alone, be told.

mod folder;
pub mod instruments;
pub mod judge;
pub mod live;
pub mod news;
pub mod pedals;
pub mod progress;
pub mod recorder;
pub mod session;
pub mod sheets;
mod shelf;
pub mod windowed;
pub mod wiring;
