//! What was just played: a log that the audio thread writes and anybody reads,
//! and the MIDI file of its last bars.

mod file;
mod keep;
mod log;
mod tape;

pub use file::midi_file;
pub use keep::keep;
pub use log::{LoggedEvent, Owner, TakeLog, What};
pub use tape::Tape;
