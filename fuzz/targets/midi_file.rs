//! A MIDI file: read, given a left hand, written and read again.
#![no_main]

use libfuzzer_sys::fuzz_target;
use sinistra_score::MidiFile;

fuzz_target!(|bytes: &[u8]| {
    let Ok(file) = MidiFile::read("file", bytes) else { return };
    let written = file.with_track("Left hand", &[]);
    assert!(MidiFile::read("written", &written).is_ok());
    if bytes.len() < 4_000 {
        sinistra_fuzz::harmonise(&file);
    }
});
