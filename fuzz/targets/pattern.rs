//! A pattern file: read, printed, read again.
#![no_main]

use libfuzzer_sys::fuzz_target;
use sinistra_score::PatternFile;

fuzz_target!(|text: &str| {
    if let Ok(file) = PatternFile::read("pattern", text) {
        let printed = file.print();
        assert!(PatternFile::read("printed", &printed).is_ok(), "{printed}");
    }
});
