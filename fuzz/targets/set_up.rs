//! The bridge's set-up file.
#![no_main]

use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    let _ = sinistra_program::hostile::set_up(text);
});
