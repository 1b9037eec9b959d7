//! The document: header, then measure after measure of both staves.

use super::accidentals::Accidentals;
use super::fingering::{self, Fingers, Grip};
use super::symbols;
use super::value;
use super::voice::{self, Event, Stroke};
use super::xml::Xml;
use super::{Contents, Ending, Sheet, SheetBar, SheetNote};
use crate::play::Role;
use crate::score::practice::Count;
use crate::time::{Metre, Ticks};

/// Divisions of a quarter note in the document: sixteenths are its finest.
const DIVISIONS: i64 = 4;

fn divisions(ticks: i64) -> i64 {
    ticks * DIVISIONS / Ticks::PER_BEAT
}

/// One hand, ready to be cut into bars.
struct Part {
    strokes: Vec<Stroke<SheetNote>>,
    fingers: Vec<Fingers>,
    staff: u8,
    accidentals: Accidentals,
}

pub(super) fn document(sheet: &Sheet) -> (String, Contents) {
    let end = sheet.bars.last().map_or(0, |bar| bar.end.0);
    let ms = |ticks: i64| Ticks(ticks).beats() * 60_000.0 / sheet.tempo;
    let part = |notes: &[SheetNote], staff| {
        let strokes = voice::settle(strokes(notes), end);
        let fingers = if staff == 2 { fingers(&strokes, ms) } else { Vec::new() };
        Part { strokes, fingers, staff, accidentals: Accidentals::of(sheet.key) }
    };
    let mut hands = [part(&sheet.right, 1), part(&sheet.left, 2)];
    let mut contents = Contents::default();
    let mut xml = Xml::musicxml();
    xml.open("score-partwise", &[("version", "4.0")]);
    header(&mut xml, sheet);
    xml.open("part", &[("id", "P1")]);
    let breaks = line_breaks(sheet, &hands[1].strokes);
    let mut metre = None;
    let mut chords = sheet.chords.as_slice();
    for (index, bar) in sheet.bars.iter().enumerate() {
        let short = bar.end.0 - bar.at.0 < bar.metre.bar().0;
        let number = bar.number.to_string();
        let mut attributes = vec![("number", number.as_str())];
        if short {
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
        // A pick-up fills the end of its bar, a bar cut short its start.
        let first =
            if short && bar.number == 0 { bar.metre.bar().0 - (bar.end.0 - bar.at.0) } else { 0 };
        let here = chords.partition_point(|chord| chord.at < bar.end);
        let (now, later) = chords.split_at(here);
        chords = later;
        for chord in now.iter().filter(|chord| chord.at >= bar.at) {
            symbols::harmony(&mut xml, chord, divisions(chord.at.0 - bar.at.0));
            contents.chords += 1;
        }
        for (index, hand) in hands.iter_mut().enumerate() {
            if index > 0 {
                xml.open("backup", &[]);
                xml.leaf("duration", &[], divisions(bar.end.0 - bar.at.0));
                xml.close();
            }
            contents.heads += staff(&mut xml, sheet, bar, hand, first);
        }
        let last = index + 1 == sheet.bars.len();
        closing_line(&mut xml, bar, last);
        xml.close();
    }
    (xml.finish(), contents)
}

/// Notes struck together, from low to high.
fn strokes(notes: &[SheetNote]) -> Vec<Stroke<SheetNote>> {
    let mut notes = notes.to_vec();
    notes.sort_by_key(|note| (note.at, note.key));
    notes.dedup_by_key(|note| (note.at, note.key));
    notes
        .chunk_by(|a, b| a.at == b.at)
        .filter_map(|together| {
            let at = together.first()?.at.0;
            let until = together.iter().map(|note| note.until.0).max()?;
            Some(Stroke { at, until, notes: together.to_vec() })
        })
        .collect()
}

fn fingers(strokes: &[Stroke<SheetNote>], ms: impl Fn(i64) -> f64) -> Vec<Fingers> {
    let grips: Vec<Grip> = strokes
        .iter()
        .map(|s| Grip { keys: s.notes.iter().map(|n| n.key).collect(), at_ms: ms(s.at) })
        .collect();
    fingering::left_hand(&grips)
}

/// Bars that start a line: up to four of them on one, fewer where the left
/// hand is busy, so that counts and roles have room.
fn line_breaks(sheet: &Sheet, left: &[Stroke<SheetNote>]) -> Vec<usize> {
    let busy = |bar: &SheetBar| {
        let from = left.partition_point(|stroke| stroke.at < bar.at.0);
        let to = left.partition_point(|stroke| stroke.at < bar.end.0);
        (to - from).max(3)
    };
    let mut breaks = Vec::new();
    let (mut on_line, mut strokes) = (0, 0);
    for (index, bar) in sheet.bars.iter().enumerate() {
        let busy = busy(bar);
        if on_line == 4 || strokes + busy > 18 {
            breaks.push(index);
            (on_line, strokes) = (0, 0);
        }
        // A pick-up does not count as a bar of the line.
        on_line += usize::from(bar.number != 0);
        strokes += busy;
    }
    breaks
}

fn header(xml: &mut Xml, sheet: &Sheet) {
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
        ("title", sheet.title.as_str(), "22", "1620"),
        ("subtitle", sheet.pattern.as_str(), "13", "1560"),
        ("rights", LEGEND, "8", "60"),
    ] {
        xml.open("credit", &[("page", "1")]);
        xml.leaf("credit-type", &[], what);
        let place = [
            ("default-x", "600"),
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

/// A4 with 7 mm staves.
fn page(xml: &mut Xml) {
    xml.open("defaults", &[]);
    xml.open("scaling", &[]);
    xml.leaf("millimeters", &[], 7);
    xml.leaf("tenths", &[], 40);
    xml.close();
    xml.open("page-layout", &[]);
    xml.leaf("page-height", &[], 1697);
    xml.leaf("page-width", &[], 1200);
    xml.open("page-margins", &[("type", "both")]);
    for side in ["left-margin", "right-margin", "top-margin", "bottom-margin"] {
        xml.leaf(side, &[], 80);
    }
    xml.close();
    xml.close();
    xml.close();
}

fn attributes_of(xml: &mut Xml, sheet: &Sheet, metre: Metre, before: &mut Option<Metre>) {
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
        let mode = match sheet.key.mode {
            crate::key::Mode::Major => "major",
            crate::key::Mode::Minor => "minor",
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
fn how_to_play(xml: &mut Xml, sheet: &Sheet) {
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
    if sheet.swing {
        xml.open("sound", &[("tempo", &tempo)]);
        xml.open("swing", &[]);
        xml.leaf("first", &[], 2);
        xml.leaf("second", &[], 1);
        xml.leaf("swing-type", &[], "eighth");
        xml.close();
        xml.close();
    } else {
        xml.empty("sound", &[("tempo", &tempo)]);
    }
    xml.close();
    if sheet.swing {
        words(xml, "Swing the eighths: long\u{2013}short", &[("font-style", "italic")]);
    }
}

fn words(xml: &mut Xml, text: &str, style: &[(&'static str, &str)]) {
    xml.open("direction", &[("placement", "above")]);
    xml.open("direction-type", &[]);
    xml.leaf("words", style, text);
    xml.close();
    xml.leaf("staff", &[], 1);
    xml.close();
}

fn opening_line(xml: &mut Xml, bar: &SheetBar) {
    let starts = bar.ending.as_ref().filter(|ending| ending.starts);
    if !bar.repeat_from && starts.is_none() {
        return;
    }
    xml.open("barline", &[("location", "left")]);
    if bar.repeat_from {
        xml.leaf("bar-style", &[], "heavy-light");
    }
    if let Some(ending) = starts {
        bracket(xml, ending, "start");
    }
    if bar.repeat_from {
        xml.empty("repeat", &[("direction", "forward")]);
    }
    xml.close();
}

fn closing_line(xml: &mut Xml, bar: &SheetBar, last: bool) {
    let stops = bar.ending.as_ref().filter(|ending| ending.stops);
    if bar.repeat_times.is_none() && stops.is_none() && !last {
        return;
    }
    xml.open("barline", &[("location", "right")]);
    if bar.repeat_times.is_some() || last {
        xml.leaf("bar-style", &[], "light-heavy");
    }
    if let Some(ending) = stops {
        let last_ending = bar.repeat_times.is_none() && !last;
        bracket(xml, ending, if last_ending { "discontinue" } else { "stop" });
    }
    if let Some(times) = bar.repeat_times {
        let times = times.to_string();
        xml.empty("repeat", &[("direction", "backward"), ("times", &times)]);
    }
    xml.close();
}

fn bracket(xml: &mut Xml, ending: &Ending, kind: &str) {
    let numbers: Vec<String> = ending.passes.iter().map(u8::to_string).collect();
    xml.empty("ending", &[("number", &numbers.join(",")), ("type", kind)]);
}

/// One staff of a measure; gives the number of noteheads.
fn staff(xml: &mut Xml, sheet: &Sheet, bar: &SheetBar, hand: &mut Part, first: i64) -> usize {
    hand.accidentals.new_bar();
    let events = voice::bar(&hand.strokes, bar.metre, (bar.at.0, bar.end.0), first);
    if events.iter().all(|event| event.stroke.is_none()) {
        whole_rest(xml, divisions(bar.end.0 - bar.at.0), hand.staff);
        return 0;
    }
    let mut heads = 0;
    for event in &events {
        match event.stroke {
            Some(index) => heads += stroke(xml, sheet, hand, event, index, bar.metre),
            None => rest(xml, event, hand.staff),
        }
    }
    heads
}

fn whole_rest(xml: &mut Xml, duration: i64, staff: u8) {
    xml.open("note", &[]);
    xml.empty("rest", &[("measure", "yes")]);
    xml.leaf("duration", &[], duration);
    xml.leaf("voice", &[], staff);
    xml.leaf("staff", &[], staff);
    xml.close();
}

fn rest(xml: &mut Xml, event: &Event, staff: u8) {
    xml.open("note", &[]);
    xml.empty("rest", &[]);
    xml.leaf("duration", &[], divisions(event.length));
    xml.leaf("voice", &[], staff);
    value_of(xml, event);
    xml.leaf("staff", &[], staff);
    xml.close();
}

fn value_of(xml: &mut Xml, event: &Event) {
    if let Some(value) = value::value(event.length) {
        xml.leaf("type", &[], value.name);
        for _ in 0..value.dots {
            xml.empty("dot", &[]);
        }
    }
}

/// All noteheads of a stroke.
fn stroke(
    xml: &mut Xml,
    sheet: &Sheet,
    hand: &mut Part,
    event: &Event,
    index: usize,
    metre: Metre,
) -> usize {
    let Some(stroke) = hand.strokes.get(index) else { return 0 };
    let fingers = hand.fingers.get(index).filter(|_| !event.tied_from);
    for (place, note) in stroke.notes.iter().enumerate() {
        let head = sheet.head(note);
        xml.open("note", &[]);
        if place > 0 {
            xml.empty("chord", &[]);
        }
        xml.open("pitch", &[]);
        xml.leaf("step", &[], head.spelled.letter.name());
        if head.spelled.alter != 0 {
            xml.leaf("alter", &[], head.spelled.alter);
        }
        xml.leaf("octave", &[], head.octave);
        xml.close();
        xml.leaf("duration", &[], divisions(event.length));
        for (on, kind) in [(event.tied_from, "stop"), (event.tied_on, "start")] {
            if on {
                xml.empty("tie", &[("type", kind)]);
            }
        }
        xml.leaf("voice", &[], hand.staff);
        value_of(xml, event);
        // A tied head repeats no accidental, even over a bar line.
        if !event.tied_from
            && let Some(accidental) = hand.accidentals.before(head)
        {
            xml.leaf("accidental", &[], accidental);
        }
        xml.leaf("staff", &[], hand.staff);
        if place == 0 {
            for (level, beam) in event.beams.iter().enumerate() {
                xml.leaf("beam", &[("number", &(level + 1).to_string())], beam);
            }
        }
        notations(xml, event, fingers, place);
        if place == 0 && hand.staff == 2 && !event.tied_from {
            lyrics(xml, &stroke.notes, Count::of(metre, Ticks(event.offset)));
        }
        xml.close();
    }
    stroke.notes.len()
}

fn notations(xml: &mut Xml, event: &Event, fingers: Option<&Fingers>, place: usize) {
    let finger = fingers.and_then(|fingers| fingers.fingers.get(place));
    if finger.is_none() && !event.tied_from && !event.tied_on {
        return;
    }
    xml.open("notations", &[]);
    for (on, kind) in [(event.tied_from, "stop"), (event.tied_on, "start")] {
        if on {
            xml.empty("tied", &[("type", kind)]);
        }
    }
    if let Some(finger) = finger {
        let moves = fingers.is_some_and(|fingers| fingers.moves);
        // The lowest finger leads the hand; in front of it stands the arrow.
        let arrow = if moves && place == 0 { "\u{2192}" } else { "" };
        xml.open("technical", &[]);
        xml.leaf("fingering", &[("placement", "above")], format!("{arrow}{finger}"));
        xml.close();
    }
    if finger.is_some() && fingers.is_some_and(|fingers| fingers.wide) {
        xml.empty("arpeggiate", &[]);
    }
    xml.close();
}

/// The count under the note, and under that what the note is to its chord.
fn lyrics(xml: &mut Xml, notes: &[SheetNote], count: Count) {
    let roles: Vec<&str> = notes.iter().filter_map(|note| note.role.map(short)).collect();
    for (number, text) in [("1", count.syllable()), ("2", roles.concat())] {
        if !text.is_empty() {
            xml.open("lyric", &[("number", number), ("placement", "below")]);
            xml.leaf("syllabic", &[], "single");
            xml.leaf("text", &[], text);
            xml.close();
        }
    }
}

/// A role in as few letters as a line of music has room for; see [`LEGEND`].
const fn short(role: Role) -> &'static str {
    match role {
        Role::Root => "R",
        Role::Third => "3",
        Role::Fifth => "5",
        Role::Seventh => "7",
        Role::Sixth => "6",
        Role::Ninth => "9",
        Role::Octave => "8",
        Role::Bass => "B",
        Role::Passing => "P",
    }
}

/// Printed at the foot of the first page.
const LEGEND: &str = "Under the notes: the count; then R root, 3 5 6 7 9 tone of the chord, \
     8 octave, B bass after the slash, P passing note. \
     Above the left hand: fingers; \u{2192} the hand moves.";
