//! Chord symbols as on our sheets: root, accidentals and all that follows alike.

use egui::Color32;
use egui::text::{LayoutJob, TextFormat};
use sinistra_core::chord::{Chord, Symbol};
use sinistra_core::key::Key;

use crate::look::chord_font;

/// The symbol of `chord` in `key`, `size` points high.
pub fn chord(chord: Chord, key: Key, size: f32, colour: Color32) -> LayoutJob {
    symbol(&Symbol::of(chord, key).to_string(), size, colour)
}

/// A written symbol, such as `B♭m7/D`: in one size, on one line.
pub fn symbol(text: &str, size: f32, colour: Color32) -> LayoutJob {
    let format = TextFormat { font_id: chord_font(size), color: colour, ..Default::default() };
    LayoutJob::single_section(text.to_owned(), format)
}
