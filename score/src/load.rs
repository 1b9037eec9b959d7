//! A chart from any file that may hold one.

use super::{Chart, Fault, Faults, musicxml};

/// Reads a chart by what is in the file, whatever it is called: our text, or
/// a MusicXML lead sheet, plain or compressed. `name` is for messages.
///
/// # Errors
/// Every fault that was found.
pub fn load_chart(bytes: &[u8], name: &str) -> Result<Chart, Faults> {
    if bytes.starts_with(b"PK\x03\x04") {
        let score = musicxml::unpacked(bytes).map_err(|fault| fault.of_file(name))?;
        return musicxml::chart(name, &text(&score, name)?);
    }
    let text = text(bytes, name)?;
    let start = text.trim_start_matches('\u{feff}').trim_start();
    if start.starts_with('<') { musicxml::chart(name, start) } else { Chart::read(name, &text) }
}

/// UTF-8, or UTF-16 with its mark, as some programs export MusicXML.
fn text(bytes: &[u8], name: &str) -> Result<String, Fault> {
    let pairs = |from_bytes: fn([u8; 2]) -> u16| {
        let pairs = bytes.chunks_exact(2).map(|pair| from_bytes([pair[0], pair[1]]));
        String::from_utf16(&pairs.collect::<Vec<_>>()).ok()
    };
    let text = match bytes {
        [0xFF, 0xFE, ..] => pairs(u16::from_le_bytes),
        [0xFE, 0xFF, ..] => pairs(u16::from_be_bytes),
        _ => std::str::from_utf8(bytes).ok().map(str::to_owned),
    };
    text.ok_or_else(|| {
        Fault::new("neither text (UTF-8) nor MusicXML")
            .of_file(name)
            .hint("a chart is a text file, or .musicxml or .mxl")
    })
}
