//! Chord symbols as they are printed: the root large, accidentals and all that
//! follows smaller and raised a little.

use egui::text::{LayoutJob, TextFormat};
use egui::{Align, Color32};
use sinistra_core::chord::{Chord, Symbol};
use sinistra_core::key::Key;

use crate::look::chord_font;

/// The symbol of `chord` in `key`, the root `size` points high.
pub fn chord(chord: Chord, key: Key, size: f32, colour: Color32) -> LayoutJob {
    symbol(&Symbol::of(chord, key).to_string(), size, colour)
}

/// A written symbol, such as `B♭m7/D`.
pub fn symbol(text: &str, size: f32, colour: Color32) -> LayoutJob {
    let mut job = LayoutJob::default();
    let mut put = |text: &str, part: f32, valign| {
        let font_id = chord_font(size * part);
        job.append(text, 0.0, TextFormat { font_id, color: colour, valign, ..Default::default() });
    };
    let accidental = |c: char| matches!(c, '♭' | '♯');
    for (n, part) in text.split('/').enumerate() {
        // A slash before a digit (6/9) stays with the quality.
        let is_bass = n > 0 && part.starts_with(|c: char| c.is_ascii_uppercase());
        if n > 0 {
            put("/", if is_bass { 0.7 } else { 0.6 }, Align::BOTTOM);
        }
        let root =
            if n == 0 || is_bass { part.chars().next().map_or(0, char::len_utf8) } else { 0 };
        let marks =
            part[root..].chars().take_while(|c| accidental(*c)).map(char::len_utf8).sum::<usize>();
        let share = if is_bass { 0.7 } else { 1.0 };
        put(&part[..root], share, Align::BOTTOM);
        put(&part[root..root + marks], share * 0.8, Align::Center);
        put(&part[root + marks..], 0.6, Align::Center);
    }
    job
}
