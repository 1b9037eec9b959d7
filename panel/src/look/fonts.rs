//! The fonts, with ♭ and ♯ in all of them.

use std::sync::Arc;

use egui::{FontData, FontDefinitions, FontFamily, FontId};

const SANS: &[u8] = include_bytes!("../../fonts/DejaVuSans-subset.ttf");
const MONO: &[u8] = include_bytes!("../../fonts/DejaVuSansMono-subset.ttf");
const SERIF: &[u8] = include_bytes!("../../fonts/DejaVuSerif-Bold-subset.ttf");

/// Notes, clefs and all other signs of the staff (SMuFL code points).
pub const MUSIC_FONT: &[u8] = include_bytes!("../../fonts/SinistraNotation.otf");

/// The family of chord symbols.
const CHORDS: &str = "chords";
/// The family of the staff.
const MUSIC: &str = "music";

/// For [`egui::Context::set_fonts`].
pub fn definitions() -> FontDefinitions {
    let mut fonts = FontDefinitions::empty();
    for (name, bytes) in [("sans", SANS), ("mono", MONO), ("serif", SERIF), ("music", MUSIC_FONT)] {
        fonts.font_data.insert(name.into(), Arc::new(FontData::from_static(bytes)));
    }
    let family = |names: &[&str]| names.iter().map(ToString::to_string).collect::<Vec<_>>();
    fonts.families.insert(FontFamily::Proportional, family(&["sans"]));
    fonts.families.insert(FontFamily::Monospace, family(&["mono", "sans"]));
    fonts.families.insert(FontFamily::Name(CHORDS.into()), family(&["serif", "sans"]));
    fonts.families.insert(FontFamily::Name(MUSIC.into()), family(&["music"]));
    fonts
}

/// For the signs of the staff; an em is four staff spaces.
pub fn music_font(size: f32) -> FontId {
    FontId::new(size, FontFamily::Name(MUSIC.into()))
}

/// For chord symbols.
pub fn chord_font(size: f32) -> FontId {
    FontId::new(size, FontFamily::Name(CHORDS.into()))
}

/// For everything else that is drawn by hand.
pub fn text_font(size: f32) -> FontId {
    FontId::new(size, FontFamily::Proportional)
}
