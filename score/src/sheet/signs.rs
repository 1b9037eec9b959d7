//! What stands before and above the notes in MusicXML: clefs, key and time
//! signature, tempo, swing, words.

use super::Sheet;
use super::xml::Xml;
use sinistra_core::key::Mode;
use sinistra_core::time::{Metre, Ticks};

/// Divisions of a quarter note in the document: sixteenths and thirds are its finest.
const DIVISIONS: i64 = 12;

pub(super) fn divisions(ticks: i64) -> i64 {
    ticks * DIVISIONS / Ticks::PER_BEAT
}

pub(super) fn attributes_of(
    xml: &mut Xml,
    sheet: &Sheet,
    metre: Metre,
    before: &mut Option<Metre>,
) {
    if *before == Some(metre) {
        return;
    }
    let first = before.is_none();
    *before = Some(metre);
    xml.open("attributes", &[]);
    if first {
        xml.leaf("divisions", &[], DIVISIONS);
        xml.open("key", &[]);
        xml.leaf("fifths", &[], sheet.key.fifths());
        let mode = match sheet.key.key().mode {
            Mode::Major => "major",
            Mode::Minor => "minor",
        };
        xml.leaf("mode", &[], mode);
        xml.close();
    }
    xml.open("time", &[]);
    xml.leaf("beats", &[], metre.beats());
    xml.leaf("beat-type", &[], metre.unit());
    xml.close();
    if first {
        xml.leaf("staves", &[], 2);
        for (number, sign, line) in [("1", "G", 2), ("2", "F", 4)] {
            xml.open("clef", &[("number", number)]);
            xml.leaf("sign", &[], sign);
            xml.leaf("line", &[], line);
            xml.close();
        }
    }
    xml.close();
}

/// Tempo in the felt beat, and swing.
pub(super) fn how_to_play(xml: &mut Xml, sheet: &Sheet) {
    let compound = sheet.bars.first().is_some_and(|bar| bar.metre.is_compound());
    let felt = if compound { sheet.tempo / 1.5 } else { sheet.tempo };
    xml.open("direction", &[("placement", "above")]);
    xml.open("direction-type", &[]);
    xml.open("metronome", &[]);
    xml.leaf("beat-unit", &[], "quarter");
    if compound {
        xml.empty("beat-unit-dot", &[]);
    }
    xml.leaf("per-minute", &[], felt.round());
    xml.close();
    xml.close();
    xml.leaf("staff", &[], 1);
    let tempo = format!("{}", (sheet.tempo * 100.0).round() / 100.0);
    if sheet.swing > 50 {
        xml.open("sound", &[("tempo", &tempo)]);
        xml.open("swing", &[]);
        // Two to one is a triplet; else as many percent.
        let (first, second) = match sheet.swing {
            67 => (2, 1),
            first => (first, 100 - first.min(99)),
        };
        xml.leaf("first", &[], first);
        xml.leaf("second", &[], second);
        xml.leaf("swing-type", &[], "eighth");
        xml.close();
        xml.close();
    } else {
        xml.empty("sound", &[("tempo", &tempo)]);
    }
    xml.close();
    if sheet.swing > 50 {
        let style = [("font-style", "italic")];
        words(xml, "Swing the eighths: long\u{2013}short", &style, Placed::ABOVE);
    }
}

/// From here on (`up`), or up to here (`stop`), notes are printed an octave
/// above the pitch that they carry (MusicXML 4.0 `octave-shift`).
pub(super) fn octave_shift(xml: &mut Xml, kind: &str, staff: u8) {
    xml.open("direction", &[("placement", "below")]);
    xml.open("direction-type", &[]);
    xml.empty("octave-shift", &[("type", kind), ("size", "8"), ("number", "1")]);
    xml.close();
    xml.leaf("staff", &[], staff);
    xml.close();
}

/// A section's letter in its box, and its name.
pub(super) fn section(xml: &mut Xml, letter: &str, name: &str) {
    if !letter.is_empty() {
        xml.open("direction", &[("placement", "above")]);
        xml.open("direction-type", &[]);
        xml.leaf("rehearsal", &[("font-weight", "bold"), ("enclosure", "rectangle")], letter);
        xml.close();
        xml.leaf("staff", &[], 1);
        xml.close();
    }
    if !name.is_empty() {
        words(xml, name, &[("font-weight", "bold")], Placed::ABOVE);
    }
}

/// Why the left hand plays as it does from there on, `offset` divisions after the
/// present place in the measure.
pub(super) fn reason(xml: &mut Xml, text: &str, offset: i64, staff: u8) {
    let style = [("font-style", "italic"), ("font-size", "8")];
    words(xml, text, &style, Placed { side: "below", offset, staff });
}

/// Where words stand.
struct Placed {
    side: &'static str,
    /// Divisions after the present place in the measure.
    offset: i64,
    staff: u8,
}

impl Placed {
    /// Over the right hand, here.
    const ABOVE: Self = Self { side: "above", offset: 0, staff: 1 };
}

fn words(xml: &mut Xml, text: &str, style: &[(&'static str, &str)], placed: Placed) {
    xml.open("direction", &[("placement", placed.side)]);
    xml.open("direction-type", &[]);
    xml.leaf("words", style, text);
    xml.close();
    if placed.offset != 0 {
        xml.leaf("offset", &[], placed.offset);
    }
    xml.leaf("staff", &[], placed.staff);
    xml.close();
}
