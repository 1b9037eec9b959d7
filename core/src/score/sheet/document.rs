//! The MusicXML document: header, then measure after measure of both staves.

use super::barlines::{closing_line, opening_line};
use super::header::header;
use super::lines::line_breaks;
use super::notes::staff;
use super::signs::{attributes_of, how_to_play, words};
use super::symbols;
use super::written::{Part, Staff};
use super::xml::Xml;
use super::{Contents, Sheet};
use crate::time::Ticks;

/// Divisions of a quarter note in the document: sixteenths are its finest.
pub(super) const DIVISIONS: i64 = 4;

pub(super) fn divisions(ticks: i64) -> i64 {
    ticks * DIVISIONS / Ticks::PER_BEAT
}

pub(super) fn document(sheet: &Sheet) -> (String, Contents) {
    let mut hands = [Part::of(sheet, Staff::Right), Part::of(sheet, Staff::Left)];
    let mut contents = Contents::default();
    let mut xml = Xml::musicxml();
    xml.open("score-partwise", &[("version", "4.0")]);
    header(&mut xml, sheet);
    xml.open("part", &[("id", "P1")]);
    let breaks = line_breaks(sheet, &hands[1].strikes());
    let mut metre = None;
    let mut chords = sheet.chords.as_slice();
    for (index, bar) in sheet.bars.iter().enumerate() {
        let number = bar.number.to_string();
        let mut attributes = vec![("number", number.as_str())];
        if bar.end - bar.at < bar.metre.bar() {
            attributes.push(("implicit", "yes"));
        }
        xml.open("measure", &attributes);
        contents.bars += 1;
        if breaks.contains(&index) {
            xml.empty("print", &[("new-system", "yes")]);
        }
        opening_line(&mut xml, bar);
        attributes_of(&mut xml, sheet, bar.metre, &mut metre);
        if index == 0 {
            how_to_play(&mut xml, sheet);
        }
        if let Some(section) = &bar.section {
            words(&mut xml, section, &[("font-weight", "bold"), ("enclosure", "rectangle")]);
        }
        let here = chords.partition_point(|chord| chord.at < bar.end);
        let (now, later) = chords.split_at(here);
        chords = later;
        for chord in now.iter().filter(|chord| chord.at >= bar.at) {
            symbols::harmony(&mut xml, chord, divisions(chord.at.0 - bar.at.0));
            contents.chords += 1;
        }
        let duration = bar.end.0 - bar.at.0;
        for (index, hand) in hands.iter_mut().enumerate() {
            if index > 0 {
                xml.open("backup", &[]);
                xml.leaf("duration", &[], divisions(duration));
                xml.close();
            }
            let events = hand.bar(sheet, bar);
            contents.heads += staff(&mut xml, &events, hand.number(), duration);
        }
        closing_line(&mut xml, bar, index + 1 == sheet.bars.len());
        xml.close();
    }
    (xml.finish(), contents)
}
