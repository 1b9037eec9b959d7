//! The audio world of the plugin: nothing here allocates, locks or waits once
//! it is built.

pub mod clock;
pub mod ledger;
pub mod mailbox;
pub mod merge;
pub mod rack;
pub mod sysex;
pub mod tape;
pub mod through;
