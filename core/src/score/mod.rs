//! The free world: charts, pattern files, MIDI files, MusicXML. Not real-time.

mod fault;
mod timeline;

pub use fault::{Fault, Faults, Spot};
pub use timeline::Timeline;
