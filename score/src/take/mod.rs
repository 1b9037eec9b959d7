//! What was just played: a log that the audio thread writes and anybody reads,
//! and the files of its last bars: MIDI, chart, pattern and sheet.

mod chorus;
mod file;
mod keep;
mod log;
mod stroke;
mod tape;

pub use chorus::chorus;
pub use file::midi_file;
pub use keep::{keep, keep_chorus};
pub use log::{LoggedEvent, Owner, TakeLog, What};
pub use stroke::LoggedStroke;
pub use tape::Tape;
