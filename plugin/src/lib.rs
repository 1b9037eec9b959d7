//! Sinistra in a DAW, as CLAP and VST3: host events in, the engine, host
//! events out.

mod audio;
mod effect;
mod free;
mod presets;
mod second_output;

pub use effect::Sinistra;
