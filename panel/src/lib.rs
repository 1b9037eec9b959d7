//! The one window, drawn from snapshots of the engine.

#![forbid(unsafe_code)]

pub mod drag;
mod history;
pub mod home;
pub mod host;
mod kept;
pub mod look;
mod manual;
pub mod room;
mod staff;
pub mod stage;
mod view;

pub use home::Home;
pub use kept::{KEPT_BARS, music_folder};
pub use sinistra_score::{control, take};
pub use view::Panel;
