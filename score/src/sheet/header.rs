//! The head of the MusicXML document: title, page, instrument.

use super::Sheet;
use super::xml::Xml;
use crate::wording::LEGEND;

pub(super) fn header(xml: &mut Xml, sheet: &Sheet) {
    xml.open("work", &[]);
    xml.leaf("work-title", &[], &sheet.title);
    xml.close();
    xml.leaf("movement-title", &[], format!("{} \u{2013} {}", sheet.title, sheet.pattern));
    xml.open("identification", &[]);
    xml.open("encoding", &[]);
    xml.leaf("software", &[], concat!("Sinistra ", env!("CARGO_PKG_VERSION")));
    for element in ["accidental", "beam", "stem"] {
        let has = if element == "stem" { "no" } else { "yes" };
        xml.empty("supports", &[("element", element), ("type", has)]);
    }
    xml.close();
    xml.close();
    page(xml);
    for (what, text, size, y) in [
        ("title", sheet.title.as_str(), "22", "1780"),
        ("subtitle", sheet.pattern.as_str(), "13", "1720"),
        ("rights", LEGEND, "8", "60"),
    ] {
        xml.open("credit", &[("page", "1")]);
        xml.leaf("credit-type", &[], what);
        let place = [
            ("default-x", "656"),
            ("default-y", y),
            ("font-size", size),
            ("justify", "center"),
            ("valign", "top"),
        ];
        xml.leaf("credit-words", &place, text);
        xml.close();
    }
    xml.open("part-list", &[]);
    xml.open("score-part", &[("id", "P1")]);
    xml.leaf("part-name", &[("print-object", "no")], "Piano");
    xml.open("score-instrument", &[("id", "P1-I1")]);
    xml.leaf("instrument-name", &[], "Piano");
    xml.close();
    xml.open("midi-instrument", &[("id", "P1-I1")]);
    xml.leaf("midi-channel", &[], 1);
    xml.leaf("midi-program", &[], 1);
    xml.close();
    xml.close();
    xml.close();
}

/// A4 with staves of 6.4 mm, as on our own pages.
fn page(xml: &mut Xml) {
    xml.open("defaults", &[]);
    xml.open("scaling", &[]);
    xml.leaf("millimeters", &[], "6.4");
    xml.leaf("tenths", &[], 40);
    xml.close();
    xml.open("page-layout", &[]);
    xml.leaf("page-height", &[], 1856);
    xml.leaf("page-width", &[], 1312);
    xml.open("page-margins", &[("type", "both")]);
    for side in ["left-margin", "right-margin", "top-margin", "bottom-margin"] {
        xml.leaf(side, &[], 75);
    }
    xml.close();
    xml.close();
    xml.close();
}
