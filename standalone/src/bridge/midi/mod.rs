//! MIDI 1.0 as a stream of bytes; what they mean is `sinistra_core::midi`'s.

mod stream;

pub use sinistra_core::midi::{ACTIVE_SENSING, CLOCK, CONTINUE, RESET, SONG_POSITION, START, STOP};
pub use sinistra_core::midi::{
    CONTROL, ChannelKind, KeyState, MIDDLE, NOTE_ON, RESET_CONTROLLERS, SOFT, SOSTENUTO, SUSTAIN,
    Short, silence,
};
pub use stream::{LONGEST, Stream};
