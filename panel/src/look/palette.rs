//! The colours; each is also said by a shape or a letter somewhere.

use egui::Color32;

/// One set of colours.
#[derive(Clone, Copy, Debug)]
pub struct Palette {
    /// Behind everything.
    pub paper: Color32,
    /// Behind what is written on: the editor, white keys.
    pub sheet: Color32,
    /// A little darker than paper.
    pub shade: Color32,
    /// Text and black keys.
    pub ink: Color32,
    /// Text that matters less.
    pub faint: Color32,
    /// Rules and outlines.
    pub line: Color32,
    /// The right hand.
    pub right: Color32,
    /// The left hand.
    pub left: Color32,
    /// On `right` and `left`.
    pub on_hand: Color32,
    /// The place in the music.
    pub mark: Color32,
    /// What is wrong.
    pub fault: Color32,
}

const fn rgb(hex: u32) -> Color32 {
    Color32::from_rgb((hex >> 16) as u8, (hex >> 8) as u8, hex as u8)
}

impl Palette {
    /// Ink on grey paper.
    pub const DAY: Self = Self {
        paper: rgb(0xEE_F1F0),
        sheet: rgb(0xFC_FDFD),
        shade: rgb(0xDD_E4E2),
        ink: rgb(0x2B_2A33),
        faint: rgb(0x62_5F66),
        line: rgb(0xA6_B2B0),
        right: rgb(0x2F_5D8A),
        left: rgb(0xA8_4A1C),
        on_hand: rgb(0xFF_FFFF),
        mark: rgb(0xB9_DFD2),
        fault: rgb(0xB0_1E2E),
    };

    /// Chalk on slate.
    pub const NIGHT: Self = Self {
        paper: rgb(0x22_262B),
        sheet: rgb(0x2C_3138),
        shade: rgb(0x34_3A42),
        ink: rgb(0xEE_EAE0),
        faint: rgb(0xB4_B1A8),
        line: rgb(0x5E_6670),
        right: rgb(0x8F_BCE6),
        left: rgb(0xF0_A372),
        on_hand: rgb(0x1A_1C20),
        mark: rgb(0x23_5A4E),
        fault: rgb(0xFF_8E8E),
    };

    /// The one that the window wears.
    pub fn of(ui: &egui::Ui) -> Self {
        if ui.visuals().dark_mode { Self::NIGHT } else { Self::DAY }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance and contrast ratio: W3C, WCAG 2.2, "contrast ratio".
    fn contrast(a: Color32, b: Color32) -> f64 {
        let light = |colour: Color32| {
            let [r, g, b, _] = colour.to_array().map(|byte| {
                let part = f64::from(byte) / 255.0;
                if part <= 0.04045 { part / 12.92 } else { ((part + 0.055) / 1.055).powf(2.4) }
            });
            0.2126 * r + 0.7152 * g + 0.0722 * b
        };
        let (a, b) = (light(a), light(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    #[test]
    fn text_can_be_read_by_day_and_by_night() {
        for p in [Palette::DAY, Palette::NIGHT] {
            for (text, ground) in [
                (p.ink, p.paper),
                (p.ink, p.sheet),
                (p.ink, p.shade),
                (p.ink, p.mark),
                (p.faint, p.paper),
                (p.fault, p.paper),
                (p.fault, p.sheet),
                (p.on_hand, p.right),
                (p.on_hand, p.left),
            ] {
                let ratio = contrast(text, ground);
                assert!(ratio >= 4.5, "{text:?} on {ground:?}: {ratio:.2}"); // WCAG level AA
            }
        }
    }
}
