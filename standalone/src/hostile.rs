//! What strangers may hand to the program, read as it reads it: for the fuzzers,
//! which see no other room of it.

pub use crate::bridge::hostile::{keyboards, set_up};
pub use crate::practice::progress::parse as progress;
pub use crate::sound::hostile::sound_font;
