//! Bytes from a keyboard's cable, whole messages or not, and the times between.
#![no_main]

use libfuzzer_sys::fuzz_target;

fuzz_target!(|pieces: Vec<(u8, Vec<u8>)>| {
    let pieces = pieces.iter().map(|(rests, bytes)| (*rests, bytes.as_slice()));
    let left = sinistra_program::hostile::keyboards(pieces);
    assert_eq!(left, 0, "keys still sound at the end");
});
