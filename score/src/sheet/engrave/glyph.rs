//! The signs of the music font: code points and the sizes that layout needs.
//!
//! Code points: Standard Music Font Layout (SMuFL) 1.4, W3C Music Notation
//! Community Group. Sizes in staff spaces: the metadata of Bravura 1.392
//! (`glyphAdvanceWidths`, `glyphsWithAnchors`, `engravingDefaults`), of which
//! our font is a subset.

/// A sign of the music font. Its origin is on its staff position, at its left.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Glyph(pub char);

#[allow(missing_docs, reason = "their names say it")]
impl Glyph {
    pub const BRACE: Self = Self('\u{E000}');
    pub const REPEAT_DOT: Self = Self('\u{E044}');
    pub const PARENTHESIS_LEFT: Self = Self('\u{E26A}');
    pub const PARENTHESIS_RIGHT: Self = Self('\u{E26B}');
    pub const TREBLE_CLEF: Self = Self('\u{E050}');
    pub const BASS_CLEF: Self = Self('\u{E062}');
    pub const HEAD_BREVE: Self = Self('\u{E0A0}');
    pub const HEAD_WHOLE: Self = Self('\u{E0A2}');
    pub const HEAD_HALF: Self = Self('\u{E0A3}');
    pub const HEAD_BLACK: Self = Self('\u{E0A4}');
    pub const HEAD_CROSS: Self = Self('\u{E0A9}');
    pub const DOT: Self = Self('\u{E1E7}');
    pub const REST_BREVE: Self = Self('\u{E4E2}');
    pub const REST_WHOLE: Self = Self('\u{E4E3}');
    pub const REST_HALF: Self = Self('\u{E4E4}');
    pub const REST_QUARTER: Self = Self('\u{E4E5}');
    pub const REST_EIGHTH: Self = Self('\u{E4E6}');
    pub const REST_16TH: Self = Self('\u{E4E7}');
    pub const TRIPLET: Self = Self('\u{E883}');
    pub const TEMPO_QUARTER: Self = Self('\u{ECA5}');
    pub const TEMPO_DOT: Self = Self('\u{ECB7}');

    /// A digit of a time signature.
    #[must_use]
    pub fn time_digit(digit: u8) -> Self {
        Self(char::from_u32(0xE080 + u32::from(digit % 10)).unwrap_or('\u{E080}'))
    }

    /// By the semitones that it alters a letter by.
    #[must_use]
    pub const fn accidental(alter: i8) -> Self {
        Self(match alter {
            -2 => '\u{E264}',
            -1 => '\u{E260}',
            1 => '\u{E262}',
            2 => '\u{E263}',
            _ => '\u{E261}',
        })
    }

    /// `flags` is 1 for an eighth, 2 for a sixteenth.
    #[must_use]
    pub const fn flag(flags: u8, up: bool) -> Self {
        Self(match (flags, up) {
            (1, true) => '\u{E240}',
            (1, false) => '\u{E241}',
            (_, true) => '\u{E242}',
            (_, false) => '\u{E243}',
        })
    }

    /// How far the next sign stands from its origin.
    #[must_use]
    pub const fn width(self) -> f32 {
        match self.0 {
            '\u{E000}' => 0.336,
            '\u{E044}' | '\u{E1E7}' | '\u{ECB7}' => 0.4,
            '\u{E26A}' | '\u{E26B}' => 0.564,
            '\u{E050}' => 2.684,
            '\u{E062}' => 2.736,
            '\u{E080}'..='\u{E089}' => 1.88,
            '\u{E0A0}' => 2.396,
            '\u{E0A2}' => 1.688,
            '\u{E0A3}' | '\u{E0A4}' => 1.18,
            '\u{E0A9}' => 1.16,
            '\u{E240}' | '\u{E242}' => 1.12,
            '\u{E241}' | '\u{E243}' => 1.22,
            '\u{E260}' => 0.904,
            '\u{E261}' => 0.672,
            '\u{E262}' => 0.996,
            '\u{E263}' => 1.0,
            '\u{E264}' => 1.652,
            '\u{E4E2}' => 0.504,
            '\u{E4E3}' | '\u{E4E4}' => 1.132,
            '\u{E4E6}' => 1.0,
            '\u{E4E7}' => 1.28,
            '\u{E883}' => 1.184,
            '\u{ECA5}' => 1.328,
            _ => 1.08,
        }
    }
}

/// Height at which a stem meets a black or half head, from its middle.
pub(super) const STEM_ANCHOR: f32 = 0.168;
pub(super) const STEM: f32 = 0.12;
pub(super) const STAFF_LINE: f32 = 0.13;
pub(super) const LEDGER_LINE: f32 = 0.16;
/// How far a ledger line reaches beyond its head.
pub(super) const LEDGER_REACH: f32 = 0.35;
pub(super) const BEAM: f32 = 0.5;
/// From the upper edge of a beam to that of the next.
pub(super) const BEAM_STEP: f32 = 0.75;
pub(super) const THIN_BAR: f32 = 0.16;
pub(super) const THICK_BAR: f32 = 0.5;
pub(super) const BAR_GAP: f32 = 0.4;
