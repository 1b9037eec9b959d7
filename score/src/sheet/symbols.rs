//! Chord symbols as MusicXML `harmony`.

use super::SheetChord;
use super::xml::Xml;
use sinistra_core::chord::{Alteration, Kind, Symbol};
use sinistra_core::pitch::Spelled;

/// Writes a chord symbol above staff 1; `offset` is in divisions from the
/// present place in the measure.
pub(super) fn harmony(xml: &mut Xml, chord: &SheetChord, offset: i64) {
    xml.open("harmony", &[("print-frame", "no"), ("placement", "above")]);
    match chord.symbol {
        Some(symbol) => named(xml, symbol),
        None => {
            // "No chord": the standard asks for a root, which is not shown.
            xml.open("root", &[]);
            xml.leaf("root-step", &[("text", "")], "C");
            xml.close();
            xml.leaf("kind", &[("text", "N.C.")], Kind::None.name());
        }
    }
    if offset != 0 {
        xml.leaf("offset", &[], offset);
    }
    xml.leaf("staff", &[], 1);
    xml.close();
}

fn named(xml: &mut Xml, symbol: Symbol) {
    step(xml, "root", symbol.root);
    xml.leaf("kind", &[("text", &suffix(symbol))], symbol.quality.kind().name());
    if let Some(bass) = symbol.bass {
        step(xml, "bass", bass);
    }
    for degree in symbol.quality.degrees() {
        xml.open("degree", &[("print-object", "no")]);
        xml.leaf("degree-value", &[], degree.value);
        xml.leaf("degree-alter", &[], degree.alter);
        let change = match degree.change {
            Alteration::Add => "add",
            Alteration::Alter => "alter",
            Alteration::Subtract => "subtract",
        };
        xml.leaf("degree-type", &[], change);
        xml.close();
    }
}

/// `root` or `bass`, with its step and alteration.
fn step(xml: &mut Xml, name: &'static str, spelled: Spelled) {
    let (of_step, of_alter) = match name {
        "root" => ("root-step", "root-alter"),
        _ => ("bass-step", "bass-alter"),
    };
    xml.open(name, &[]);
    xml.leaf(of_step, &[], spelled.letter.name());
    if spelled.alter != 0 {
        xml.leaf(of_alter, &[], spelled.alter);
    }
    xml.close();
}

/// What is printed behind the root: all of it, so that no degree is printed
/// once more.
fn suffix(symbol: Symbol) -> String {
    let whole = Symbol { bass: None, ..symbol }.to_string();
    whole.strip_prefix(&symbol.root.to_string()).unwrap_or(&whole).to_string()
}
