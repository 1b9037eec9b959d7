//! A chart as text: read, unfolded, played.
#![no_main]

use libfuzzer_sys::fuzz_target;
use sinistra_core::engine::Settings;
use sinistra_score::{Chart, Performance, find_pattern};

fuzz_target!(|text: &str| {
    let Ok(chart) = Chart::read("chart", text) else { return };
    let song = chart.unfold();
    if text.len() > 400 || chart.quarters(120.0) > 400.0 {
        return; // read, and short enough to be played at each try
    }
    let pattern = find_pattern("everything-mixed").and_then(|preset| preset.compile().ok());
    let Some(pattern) = pattern else { panic!("a preset") };
    let _ = Performance::of(song, 120.0, pattern, Settings::default());
});
