//! Patterns and charts by name or by file, as the user gives them on the command line.

use std::path::Path;

use sinistra_core::play::Pattern;
use sinistra_score::chart::ChartPreset;
use sinistra_score::{Chart, PatternFile, find_pattern, load_chart, pattern_presets};

use crate::failure::Failure;
use crate::files;

pub use sinistra_score::pattern::USUAL_PATTERN;

/// A pattern file, or a shipped pattern by its name or number; several with commas are
/// a style that the free hand draws from.
///
/// # Errors
/// If there is neither; the message lists the names. Every fault of a file.
pub fn pattern(name: &str) -> Result<Box<Pattern>, Failure> {
    let path = Path::new(name);
    let compiled = if path.is_file() {
        PatternFile::compile(name, &files::read_text(path)?)
    } else if let Some(preset) = find_pattern(name) {
        preset.compile()
    } else if name.contains(',') {
        let names: Vec<_> = name.split(',').map(|name| format!("{:?}", name.trim())).collect();
        let names = names.into_iter().filter(|name| name != "\"\"").collect::<Vec<_>>().join(", ");
        PatternFile::compile("pattern", &format!("name = \"Free hand\"\ndraws = [{names}]\n"))
    } else {
        return Err(unknown("pattern", name, pattern_presets().iter().map(|preset| preset.slug)));
    };
    compiled.map_err(|faults| Failure::Input(faults.to_string()))
}

/// There is no such file, nor one of these that ship.
pub fn unknown<'a>(kind: &str, name: &str, ship: impl Iterator<Item = &'a str>) -> Failure {
    let names = ship.collect::<Vec<_>>().join(", ");
    Failure::Input(format!(
        "no {kind} `{name}`: neither a file nor one that ships\nhint: those that ship are {names}"
    ))
}

/// A chart file (our text, or a MusicXML lead sheet), or a chart that ships.
///
/// # Errors
/// If there is neither; the message lists the names. Every fault of a file.
pub fn chart(name: &str) -> Result<Chart, Failure> {
    let path = Path::new(name);
    let read = if path.is_file() {
        load_chart(&files::read(path)?, name)
    } else if let Some(preset) = ChartPreset::find(name) {
        preset.chart()
    } else {
        return Err(unknown("chart", name, ChartPreset::all().iter().map(|preset| preset.slug)));
    };
    read.map_err(|faults| Failure::Input(faults.to_string()))
}
