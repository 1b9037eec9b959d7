//! The one window, and what a home that opens it shares with the others: the
//! table of controls and the log of what was just played.

#![forbid(unsafe_code)]

pub mod home;
pub mod look;
pub mod room;
mod staff;
pub mod take;
mod view;

pub use home::Home;
pub use sinistra_score::control;
pub use view::Panel;
