//! The bridge: between keyboard and sound module, live.
//!
//! An input's thread sends every byte through before anything else
//! ([`intake`]); the [`stage`] hears, keeps the beat and plays, a millisecond
//! ahead of time; an [`outlet`] sends, and knows what sounds. The rest is
//! choosing, keeping and showing.

mod controls;
mod intake;
mod live;
mod meter;
mod midi;
mod outlet;
mod pane;
mod ports;
mod rig;
mod run;
mod set;
mod setup;
mod show;
mod stage;
mod time;
mod urgent;
mod windowed;
mod withheld;

pub use controls::Action;
pub use intake::{Arrived, Intake, QUEUE, Shared};
pub use live::{How, live, ports_of, system_of};
pub use midi::{ChannelKind, Short};
pub use outlet::{Outlet, Refused, Who, Wire};
pub use ports::{Keeper, News, Seen, Selector, System, choose};
pub use setup::{SystemName, Words, load};
pub use windowed::{Opened, in_window, live as live_in_window};
