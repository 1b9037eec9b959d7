//! MIDI 1.0, once for all rooms: what a message is ([`Short`], its bytes;
//! [`Message`], its meaning), what the channel mode messages 120 to 127 do
//! ([`ChannelMode`]), what is down ([`HeldKeys`] on one keyboard, [`KeyState`] by channel)
//! and what an output is still to be told ([`Ledger`]).
//!
//! Everything here is of fixed size and real-time safe. Source of every number:
//! The Complete MIDI 1.0 Detailed Specification (document version 96.1), and
//! Recommended Practice RP-015 for what resetting all controllers resets.

#![cfg_attr(
    not(test),
    deny(clippy::indexing_slicing, clippy::cast_possible_truncation, clippy::cast_sign_loss)
)] // never panics

mod held;
mod key_state;
mod ledger;
mod message;
mod mode;
mod short;

pub use held::HeldKeys;
pub use key_state::{KeyState, PEDALS, silence};
pub use ledger::{Counts, Ledger};
pub use message::{Message, UNKNOWN_RELEASE};
pub use mode::ChannelMode;
pub use short::{
    ACTIVE_SENSING, ALL_NOTES_OFF, ALL_SOUND_OFF, BEND, CLOCK, CONTINUE, CONTROL, ChannelKind,
    MIDDLE, NOTE_OFF, NOTE_ON, PROGRAM, RESET, RESET_CONTROLLERS, SOFT, SONG_POSITION, SOSTENUTO,
    START, STOP, SUSTAIN, Short, length,
};
