//! The free world: charts, pattern files, MIDI files, MusicXML, practice and
//! sheets. Stands on `sinistra-core`; nothing here is real-time.

#![forbid(unsafe_code)]

mod captured;
pub mod chart;
pub mod control;
mod count;
pub mod course;
mod fault;
mod left_track;
pub mod limits;
mod load;
pub mod midi_file;
pub mod musicxml;
pub mod pattern;
pub mod performance;
pub mod practice;
mod rehearse;
mod rests;
pub mod sheet;
mod slug;
pub mod spelling;
pub mod take;
mod timeline;
mod two_hands;
pub mod wording;

pub use chart::Chart;
pub use fault::{Fault, Faults, Spot};
pub use load::load_chart;
pub use midi_file::MidiFile;
pub use pattern::{PatternFile, find_pattern, pattern_presets};
pub use performance::Performance;
pub use rehearse::{Cut, HeardChord, LeftNote, Rehearsed, rehearse, rehearse_and_listen};
pub use rests::RightHandRests;
use slug::slug;
pub use timeline::Timeline;
pub use two_hands::{TwoHands, two_hands};
