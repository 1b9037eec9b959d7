//! The practice sheet: both hands on a grand staff, as MusicXML 4.0.
//!
//! Source: the MusicXML 4.0 W3C Community Group Final Report.

mod accidentals;
mod barlines;
mod document;
pub mod engrave;
pub mod fingering;
mod grid;
mod head;
mod header;
mod lines;
mod low;
mod notes;
pub mod outline;
pub(crate) mod reasons;
mod sections;
mod signs;
pub mod svg;
mod symbols;
mod value;
mod voice;
mod written;
mod xml;

pub use reasons::SheetReason;
pub use written::Staff;

use sinistra_core::chord::Symbol;
use sinistra_core::key::WrittenKey;
use sinistra_core::pitch::KeyNumber;
use sinistra_core::play::Role;
use sinistra_core::time::{Metre, Ticks};

/// A note to be printed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SheetNote {
    /// When it is struck.
    pub at: Ticks,
    /// When it is let go.
    pub until: Ticks,
    /// The key.
    pub key: KeyNumber,
    /// What it is to its chord; `None` in the right hand.
    pub role: Option<Role>,
}

/// A chord symbol above the staff.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SheetChord {
    /// Where it stands.
    pub at: Ticks,
    /// What is printed; `None` is "N.C.".
    pub symbol: Option<Symbol>,
}

/// A printed bar.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SheetBar {
    /// Its bar line.
    pub at: Ticks,
    /// Where it ends.
    pub end: Ticks,
    /// Its metre; a pick-up bar is shorter.
    pub metre: Metre,
    /// The number printed, from 1; 0 is a pick-up.
    pub number: i64,
    /// A repeat starts here.
    pub repeat_from: bool,
    /// A repeat ends here, played so many times in all.
    pub repeat_times: Option<u8>,
    /// This bar is (part of) an ending for these passes.
    pub ending: Option<Volta>,
    /// A section's name, printed above.
    pub section: Option<String>,
}

/// A bracket over an ending.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Volta {
    /// The passes it is for, from 1.
    pub passes: Vec<u8>,
    /// The bracket starts at this bar.
    pub starts: bool,
    /// The bracket stops at this bar.
    pub stops: bool,
}

/// Everything on the sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Sheet {
    /// The piece.
    pub title: String,
    /// What is practised: the pattern's name.
    pub pattern: String,
    /// The key signature, and how notes outside chords are spelled.
    pub key: WrittenKey,
    /// Quarter notes a minute.
    pub tempo: f64,
    /// Where the "and" falls in its beat, in percent; 50 is straight.
    pub swing: u8,
    /// Bars in printed order; at least one.
    pub bars: Vec<SheetBar>,
    /// Chord symbols in time order.
    pub chords: Vec<SheetChord>,
    /// The right hand, in any order.
    pub right: Vec<SheetNote>,
    /// The left hand, in any order.
    pub left: Vec<SheetNote>,
    /// Why the left hand plays as it does, in time order; none where it is not asked.
    pub reasons: Vec<SheetReason>,
}

/// How much is on a sheet, to compare with what other programs read.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, serde::Serialize)]
pub struct Contents {
    /// Measures.
    pub bars: usize,
    /// Noteheads, a tied note once for each head.
    pub heads: usize,
    /// Chord symbols.
    pub chords: usize,
}

impl Sheet {
    /// The MusicXML 4.0 document and what it contains.
    #[must_use]
    pub fn musicxml(&self) -> (String, Contents) {
        document::document(self)
    }

    /// What is said under a bar.
    fn reasons_in(&self, bar: &SheetBar) -> &[SheetReason] {
        let first = self.reasons.partition_point(|said| said.at < bar.at);
        let end = self.reasons.partition_point(|said| said.at < bar.end);
        self.reasons.get(first..end).unwrap_or(&[])
    }
}

#[cfg(test)]
mod tests;
