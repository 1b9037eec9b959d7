//! What the practice room remembers.
#![no_main]

use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let _ = sinistra_program::hostile::progress("progress", bytes);
});
