//! MIDI 1.0 as bytes: reading a stream, and knowing what is down.

mod down;
mod stream;

pub use down::{Down, silence};
pub use sinistra_core::midi::{ACTIVE_SENSING, CLOCK, CONTINUE, RESET, SONG_POSITION, START, STOP};
pub use sinistra_core::midi::{
    CONTROL, ChannelKind, MIDDLE, NOTE_ON, RESET_CONTROLLERS, SOFT, SOSTENUTO, SUSTAIN, Short,
};
pub use stream::{LONGEST, Stream};
