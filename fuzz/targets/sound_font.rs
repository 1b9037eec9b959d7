//! A SoundFont's headers, and a note of what was taken.
#![no_main]

use libfuzzer_sys::fuzz_target;

fuzz_target!(
    // A panic of the library that reads it is caught by us; the fuzzer's own hook would
    // end the process before that. One that nobody catches still ends it.
    init: std::panic::set_hook(Box::new(|_| {})),
    |bytes: &[u8]| sinistra_program::hostile::sound_font(bytes)
);
