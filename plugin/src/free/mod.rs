//! The free world of the plugin: what is edited, saved and shown. May lock,
//! allocate and wait; the audio thread never calls it.

mod delay;
mod desk;
mod editor;
mod ending;
mod host;
pub mod meeting;
pub mod parameters;
mod state;
mod task;
mod window;

pub use desk::{AudioSide, Instance};
pub use editor::OurEditor;
pub use host::HostMenus;
pub use task::{DeskTask, DeskWorker};
pub use window::{Window, editor};
