//! MusicXML, plain or compressed.
#![no_main]

use libfuzzer_sys::fuzz_target;
use sinistra_score::load_chart;

fuzz_target!(|bytes: &[u8]| {
    if let Ok(chart) = load_chart(bytes, "score") {
        let _ = chart.unfold();
    }
});
