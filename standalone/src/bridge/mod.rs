//! The bridge: between keyboard and sound module, live.
//!
//! What happens in a [`period`] knows no device: what the keyboards sent goes
//! through, the [`stage`] hears it, keeps the beat and plays, and an [`outlet`]
//! sends, and knows what sounds. JACK's process ([`rig`]) and the [`mod@hub`], the one
//! thread that carries the notes of every other system, drive it. The rest is
//! choosing, keeping and showing.

#![cfg_attr(
    not(test),
    deny(clippy::indexing_slicing, clippy::cast_possible_truncation, clippy::cast_sign_loss)
)] // what carries a note never panics

mod backlog;
mod bell;
mod controls;
mod feedback;
pub mod hostile;
mod hub;
mod intake;
mod keyboards;
mod live;
mod meter;
mod midi;
mod monitor;
mod outlet;
mod pane;
mod period;
mod plays;
mod ports;
mod rig;
mod run;
mod set;
mod setup;
mod show;
mod stage;
mod time;
mod urgent;
mod watch;
mod windowed;
mod withheld;
mod zones;

pub use controls::Action;
pub use feedback::Came;
pub use hub::{BoxedWire, Hub, HubControl, HubOrder, Routes, hub, spawn};
pub use keyboards::Keyboards;
pub use live::{How, live, ports_of, system_of};
pub use midi::Short;
pub use outlet::{Refused, Wire};
pub use period::Time;
pub use plays::Plays;
pub use ports::{Keeper, MidiSystem, PortNews, SeenPort, Selector, choose};
pub use setup::{Last, SetupWords, SystemName, load};
pub use show::TERMINAL_KEYS;
pub use stage::{DueMessage, To};
pub use windowed::{Opening, in_window, live as live_in_window};
