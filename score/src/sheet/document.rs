//! The MusicXML document: header, then measure after measure of both staves.

use super::barlines::{closing_line, opening_line};
use super::engrave::{Engraver, usual_breaks};
use super::header::header;
use super::notes::staff;
use super::sections;
use super::signs::{attributes_of, divisions, how_to_play, reason, section};
use super::symbols;
use super::written::{HandPart, Staff, WrittenEvent};
use super::xml::Xml;
use super::{Contents, Sheet};

/// What a hand plays, bar by bar, and the number of its staff.
type WrittenHand = (Vec<Vec<WrittenEvent>>, u8);

fn hand(sheet: &Sheet, staff: Staff) -> WrittenHand {
    let hand = HandPart::of(sheet, staff);
    let number = hand.number();
    (hand.bars(sheet), number)
}

pub(super) fn document(sheet: &Sheet) -> (String, Contents) {
    let [right, left] = [Staff::Right, Staff::Left].map(|staff| hand(sheet, staff));
    let mut contents = Contents::default();
    let mut xml = Xml::musicxml();
    xml.open("score-partwise", &[("version", "4.0")]);
    header(&mut xml, sheet);
    xml.open("part", &[("id", "P1")]);
    let breaks = usual_breaks(&Engraver::new(sheet));
    let marks = sections::marks(&sheet.bars);
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
        if breaks.binary_search(&index).is_ok() {
            xml.empty("print", &[("new-system", "yes")]);
        }
        opening_line(&mut xml, bar);
        attributes_of(&mut xml, sheet, bar.metre, &mut metre);
        if index == 0 {
            how_to_play(&mut xml, sheet);
        }
        if let Some((letter, name)) = marks.get(index).and_then(Option::as_ref) {
            section(&mut xml, letter, name);
        }
        let here = chords.partition_point(|chord| chord.at < bar.end);
        let (now, later) = chords.split_at(here);
        chords = later;
        for chord in now.iter().filter(|chord| chord.at >= bar.at) {
            symbols::harmony(&mut xml, chord, divisions(chord.at.0 - bar.at.0));
            contents.chords += 1;
        }
        let duration = bar.end.0 - bar.at.0;
        let mut voice = |xml: &mut Xml, (bars, number): &WrittenHand| {
            let events = |index: usize| bars.get(index).map_or(&[][..], Vec::as_slice);
            let is_low = |event: Option<&WrittenEvent>| event.is_some_and(|event| event.low);
            let before = index.checked_sub(1).and_then(|index| events(index).last());
            let around = (is_low(before), is_low(events(index + 1).first()));
            let place = (bar.missing().0, duration);
            contents.heads += staff(xml, events(index), *number, place, around);
        };
        voice(&mut xml, &right);
        xml.open("backup", &[]);
        xml.leaf("duration", &[], divisions(duration));
        xml.close();
        for said in sheet.reasons_in(bar) {
            reason(&mut xml, &said.text, divisions(said.at.0 - bar.at.0), left.1);
        }
        voice(&mut xml, &left);
        closing_line(&mut xml, bar, index + 1 == sheet.bars.len());
        xml.close();
    }
    (xml.finish(), contents)
}
