//! The musician. Hears the chord that the right hand holds, foresees the next
//! one, and plays the left hand to it: **hear → foresee → play → sound**.
//!
//! No I/O, no GUI, no plugin types. Everything that [`engine::Engine::process`]
//! calls lives in the audio world: fixed storage, no heap, no lock, no panic.
//! Charts, pattern files, MIDI files and MusicXML are `sinistra-score`'s.

#![cfg_attr(not(test), no_std)]
#![forbid(unsafe_code)]

extern crate alloc;

pub mod beat;
pub mod belief;
pub mod chance;
pub mod chord;
pub mod engine;
pub mod foresee;
pub mod hear;
pub mod key;
mod learned;
pub mod maths;
pub mod midi;
pub mod midi_clock;
mod named;
mod nats;
pub mod net;
pub mod pitch;
pub mod play;
pub mod settings;
pub mod time;
