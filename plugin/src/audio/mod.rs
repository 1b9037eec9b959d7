//! The audio world of the plugin: nothing here allocates, locks or waits once
//! it is built.
#![cfg_attr(
    not(test),
    deny(clippy::indexing_slicing, clippy::cast_possible_truncation, clippy::cast_sign_loss)
)] // never panics

pub mod ahead;
pub mod clock;
pub mod delay;
pub mod lag;
pub mod mailbox;
pub mod mark;
pub mod merge;
pub mod note_ids;
pub mod player;
pub mod rack;
pub mod span;
pub mod sysex;
pub mod through;
