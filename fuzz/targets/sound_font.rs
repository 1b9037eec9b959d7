//! A SoundFont's headers, and a note of what was taken.
#![no_main]

use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| sinistra_program::hostile::sound_font(bytes));
