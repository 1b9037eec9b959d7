//! Notes and rests of one staff in MusicXML.

use super::signs::{divisions, octave_shift};
use super::voice::Triplet;
use super::written::{Layer, WrittenEvent, WrittenNote};
use super::xml::Xml;
use crate::wording;

/// One staff of a measure that starts `first` ticks into its full bar and lasts
/// `duration`; gives the number of noteheads. A second voice goes back to the start.
/// `low_before` and `low_after` say whether an 8vb comes from the bar before, and goes on
/// in the next.
pub(super) fn staff(
    xml: &mut Xml,
    events: &[WrittenEvent],
    staff: u8,
    (first, duration): (i64, i64),
    (low_before, low_after): (bool, bool),
) -> usize {
    if events.iter().all(WrittenEvent::is_rest) {
        whole_rest(xml, divisions(duration), staff);
        return 0;
    }
    let mut heads = 0;
    let mut at = first;
    let mut low = low_before;
    for (index, event) in events.iter().enumerate() {
        if event.layer == Layer::Lower {
            if events.get(index.wrapping_sub(1)).is_none_or(|last| last.layer != Layer::Lower) {
                step(xml, "backup", at - first);
                at = first;
            }
            step(xml, "forward", event.offset - at);
        }
        if event.low != low {
            octave_shift(xml, if event.low { "up" } else { "stop" }, staff);
            low = event.low;
        }
        at = event.offset + event.length;
        if event.is_rest() {
            rest(xml, event, staff);
        }
        for (place, note) in event.notes.iter().enumerate() {
            head(xml, event, note, place, staff);
        }
        heads += event.notes.len();
    }
    step(xml, "forward", first + duration - at);
    if low && !low_after {
        octave_shift(xml, "stop", staff);
    }
    heads
}

/// Time in which nothing is printed, or that is gone back.
fn step(xml: &mut Xml, way: &'static str, ticks: i64) {
    if ticks > 0 {
        xml.open(way, &[]);
        xml.leaf("duration", &[], divisions(ticks));
        xml.close();
    }
}

/// The number of a voice: one a staff, and the left hand's lower one.
fn voice(event: &WrittenEvent, staff: u8) -> u8 {
    if event.layer == Layer::Lower { 3 } else { staff }
}

fn whole_rest(xml: &mut Xml, duration: i64, staff: u8) {
    xml.open("note", &[]);
    xml.empty("rest", &[("measure", "yes")]);
    xml.leaf("duration", &[], duration);
    xml.leaf("voice", &[], staff);
    xml.leaf("staff", &[], staff);
    xml.close();
}

fn rest(xml: &mut Xml, event: &WrittenEvent, staff: u8) {
    xml.open("note", &[]);
    xml.empty("rest", &[]);
    xml.leaf("duration", &[], divisions(event.length));
    xml.leaf("voice", &[], voice(event, staff));
    value_of(xml, event);
    in_three(xml, event);
    xml.leaf("staff", &[], staff);
    if let Some(part) = event.triplet.filter(|part| *part != Triplet::Inside) {
        xml.open("notations", &[]);
        bracket(xml, part);
        xml.close();
    }
    xml.close();
}

/// Three in the time of two.
fn in_three(xml: &mut Xml, event: &WrittenEvent) {
    if event.triplet.is_some() {
        xml.open("time-modification", &[]);
        xml.leaf("actual-notes", &[], 3);
        xml.leaf("normal-notes", &[], 2);
        xml.close();
    }
}

fn bracket(xml: &mut Xml, part: Triplet) {
    let kind = if part == Triplet::Start { "start" } else { "stop" };
    xml.empty("tuplet", &[("type", kind)]);
}

fn value_of(xml: &mut Xml, event: &WrittenEvent) {
    if let Some(value) = event.value {
        xml.leaf("type", &[], value.name);
        for _ in 0..value.dots {
            xml.empty("dot", &[]);
        }
    }
}

/// One notehead; the first of a stroke (`place` 0) carries beams and words.
fn head(xml: &mut Xml, event: &WrittenEvent, note: &WrittenNote, place: usize, staff: u8) {
    let spelled = note.head.spelled;
    xml.open("note", &[]);
    if place > 0 {
        xml.empty("chord", &[]);
    }
    xml.open("pitch", &[]);
    xml.leaf("step", &[], spelled.letter.name());
    if spelled.alter != 0 {
        xml.leaf("alter", &[], spelled.alter);
    }
    xml.leaf("octave", &[], note.head.octave);
    xml.close();
    xml.leaf("duration", &[], divisions(event.length));
    for (on, kind) in [(event.tied_from, "stop"), (event.tied_on, "start")] {
        if on {
            xml.empty("tie", &[("type", kind)]);
        }
    }
    xml.leaf("voice", &[], voice(event, staff));
    value_of(xml, event);
    if let Some(accidental) = note.accidental {
        let reminds: &[_] = if accidental.courtesy {
            &[("cautionary", "yes"), ("parentheses", "yes")]
        } else {
            &[]
        };
        xml.leaf("accidental", reminds, accidental.name());
    }
    in_three(xml, event);
    xml.leaf("staff", &[], staff);
    if place == 0 {
        for (level, beam) in event.beams.iter().enumerate() {
            xml.leaf("beam", &[("number", &(level + 1).to_string())], beam.name());
        }
    }
    notations(xml, event, note.finger, place);
    if place == 0 && staff == 2 && !event.tied_from && event.counted {
        lyrics(xml, event);
    }
    xml.close();
}

fn notations(xml: &mut Xml, event: &WrittenEvent, finger: Option<u8>, place: usize) {
    let triplet = event.triplet.filter(|part| *part != Triplet::Inside && place == 0);
    if finger.is_none() && !event.wide && !event.tied_from && !event.tied_on && triplet.is_none() {
        return;
    }
    xml.open("notations", &[]);
    for (on, kind) in [(event.tied_from, "stop"), (event.tied_on, "start")] {
        if on {
            xml.empty("tied", &[("type", kind)]);
        }
    }
    if let Some(part) = triplet {
        bracket(xml, part);
    }
    if let Some(finger) = finger {
        // The lowest finger leads the hand; in front of it stands the arrow.
        let arrow = if event.moves && place == 0 { "\u{2192}" } else { "" };
        xml.open("technical", &[]);
        xml.leaf("fingering", &[("placement", "above")], format!("{arrow}{finger}"));
        xml.close();
    }
    if event.wide {
        // The same number in both voices: they are rolled together.
        xml.empty("arpeggiate", &[("number", "1")]);
    }
    xml.close();
}

/// The count under the note, and under that what the note is to its chord.
fn lyrics(xml: &mut Xml, event: &WrittenEvent) {
    let roles: Vec<&str> = event.roles.iter().copied().map(wording::letter).collect();
    for (number, text) in [("1", event.count.syllable()), ("2", roles.concat())] {
        if !text.is_empty() {
            xml.open("lyric", &[("number", number), ("placement", "below")]);
            xml.leaf("syllabic", &[], "single");
            xml.leaf("text", &[], text);
            xml.close();
        }
    }
}
