//! Sheets as a teacher would check them: counts, spelling, ties, repeats.

use super::*;
use sinistra_core::chord::read_symbol;
use sinistra_core::key::{Key, Mode};
use sinistra_core::pitch::PitchClass;

pub(super) fn sheet(
    metre: (u8, u8),
    key: (i32, Mode),
    bars: &[&str],
    shape: &[(i64, i32, Role)],
) -> Sheet {
    let metre = Metre::new(metre.0, metre.1).expect("a metre");
    let key = Key { tonic: PitchClass::new(key.0), mode: key.1 }.into();
    let mut sheet = Sheet {
        title: "Lantern Street".into(),
        pattern: "Roots and ands".into(),
        key,
        tempo: 96.0,
        swing: 50,
        bars: Vec::new(),
        chords: Vec::new(),
        right: Vec::new(),
        left: Vec::new(),
        reasons: Vec::new(),
    };
    for (n, name) in bars.iter().enumerate() {
        let at = metre.bar().0 * n as i64;
        let end = at + metre.bar().0;
        let symbol = read_symbol(name).expect("a chord").expect("not silence");
        sheet.bars.push(SheetBar {
            at: Ticks(at),
            end: Ticks(end),
            metre,
            number: n as i64 + 1,
            repeat_from: false,
            repeat_times: None,
            ending: None,
            section: None,
        });
        sheet.chords.push(SheetChord { at: Ticks(at), symbol: Some(symbol) });
        let chord = symbol.chord();
        for class in chord.tones().iter() {
            let key = KeyNumber::clamped(60 + class.index() as i32);
            sheet.right.push(SheetNote { at: Ticks(at), until: Ticks(end - 100), key, role: None });
        }
        let root = 36 + chord.bass.index() as i32;
        for (offset, above, role) in shape {
            sheet.left.push(SheetNote {
                at: Ticks(at + offset),
                until: Ticks(at + offset + 400),
                key: KeyNumber::clamped(root + above),
                role: Some(*role),
            });
        }
    }
    sheet
}

/// Roots in eighths, the fifth on the last "and".
pub(super) fn eighths() -> Vec<(i64, i32, Role)> {
    let one = |n: i64| if n == 7 { (n * 480, 7, Role::Fifth) } else { (n * 480, 0, Role::Root) };
    (0..8).map(one).collect()
}

fn read(text: &str) -> roxmltree::Document<'_> {
    let options = roxmltree::ParsingOptions { allow_dtd: true, ..Default::default() };
    roxmltree::Document::parse_with_options(text, options).expect("sound XML")
}

/// The texts of all elements of this name, in order.
fn texts<'a>(document: &'a roxmltree::Document, name: &str) -> Vec<&'a str> {
    let elements = document.descendants().filter(|node| node.has_tag_name(name));
    elements.filter_map(|node| node.text()).collect()
}

#[test]
fn the_count_and_the_role_stand_under_each_note() {
    let sheet = sheet((4, 4), (10, Mode::Major), &["Bb"], &eighths());
    let (text, contents) = sheet.musicxml();
    let document = read(&text);
    assert_eq!(texts(&document, "text").join(" "), "1 R & R 2 R & R 3 R & R 4 R & 5");
    assert_eq!(contents, Contents { bars: 1, heads: 3 + 8, chords: 1 });
}

#[test]
fn b_flat_major_has_no_a_sharp_but_d7_has_its_f_sharp() {
    let chords = ["Bb", "Gm7", "Eb", "F7", "D7", "Gm/Bb", "Edim7", "F7b9"];
    let sheet = sheet((4, 4), (10, Mode::Major), &chords, &eighths());
    let text = sheet.musicxml().0;
    let document = read(&text);
    let names: Vec<String> = document
        .descendants()
        .filter(|node| node.has_tag_name("pitch"))
        .map(|pitch| pitch.children().filter_map(|c| c.text()).map(str::trim).take(5).collect())
        .collect();
    assert!(!names.iter().any(|name| name.starts_with("A1")), "A♯");
    assert!(names.iter().any(|name| name.starts_with("F1")), "F♯ in D7");
    // The signature has two flats, so only what departs from it is marked:
    // F♯ in D7; E and D♭ in E°7, and B in its fifth below; G♭ in F7(♭9).
    let marks = texts(&document, "accidental").join(" ");
    assert_eq!(marks, "sharp flat natural natural natural flat flat");
}

#[test]
fn a_bar_fills_exactly_its_metre_on_both_staves() {
    for (beats, unit) in [(2, 4), (3, 4), (4, 4), (5, 4), (6, 8), (7, 8), (9, 8), (12, 8)] {
        let shape = [(0, 0, Role::Root), (720, 7, Role::Fifth), (960, 12, Role::Octave)];
        let sheet = sheet((beats, unit), (0, Mode::Major), &["C", "Am"], &shape);
        let text = sheet.musicxml().0;
        let due = i64::from(beats) * 48 / i64::from(unit);
        for measure in read(&text).descendants().filter(|node| node.has_tag_name("measure")) {
            for staff in ["1", "2"] {
                let of = |node: roxmltree::Node, name| {
                    let child = node.children().find(|c| c.has_tag_name(name));
                    child.and_then(|c| c.text()).map(str::to_owned)
                };
                let filled: i64 = measure
                    .children()
                    .filter(|n| n.has_tag_name("note"))
                    .filter(|n| of(*n, "staff").as_deref() == Some(staff))
                    .filter(|n| !n.children().any(|c| c.has_tag_name("chord")))
                    .map(|n| of(n, "duration").and_then(|d| d.parse().ok()).unwrap_or(0i64))
                    .sum();
                assert_eq!(filled, due, "{beats}/{unit}, staff {staff}");
            }
        }
    }
}

#[test]
fn a_note_over_the_bar_line_is_tied_and_named_once() {
    let mut sheet = sheet((3, 4), (0, Mode::Major), &["C", "C"], &[]);
    let (at, until) = (Ticks(1920), Ticks(3840));
    let key = KeyNumber::clamped(37);
    sheet.left = vec![SheetNote { at, until, key, role: Some(Role::Passing) }];
    let text = sheet.musicxml().0;
    let document = read(&text);
    let ties = document.descendants().filter(|n| n.has_tag_name("tie"));
    assert_eq!(ties.filter_map(|n| n.attribute("type")).collect::<Vec<_>>(), ["start", "stop"]);
    assert_eq!(texts(&document, "text"), ["3", "P"]);
    assert_eq!(texts(&document, "fingering").len(), 1);
    assert_eq!(texts(&document, "accidental"), ["sharp"]); // C♯, and not again
}

#[test]
fn repeats_and_endings_are_barred() {
    let mut sheet = sheet((4, 4), (0, Mode::Major), &["C", "F", "G", "C"], &eighths());
    sheet.bars[0].repeat_from = true;
    sheet.bars[2].repeat_times = Some(2);
    sheet.bars[2].ending = Some(Volta { passes: vec![1], starts: true, stops: true });
    sheet.bars[3].ending = Some(Volta { passes: vec![2], starts: true, stops: true });
    let text = sheet.musicxml().0;
    for part in [
        "<repeat direction=\"forward\"/>",
        "<repeat direction=\"backward\" times=\"2\"/>",
        "<ending number=\"1\" type=\"start\"/>",
        "<ending number=\"2\" type=\"stop\"/>",
    ] {
        assert!(text.contains(part), "{part}");
    }
}

#[test]
fn an_8vb_ends_where_the_notes_are_read_easily_again() {
    let mut sheet = sheet((4, 4), (0, Mode::Major), &["E", "E"], &[]);
    // E2, E1, E1 and B2, and E2 in the next bar.
    sheet.left = [(0, 40), (960, 28), (1920, 28), (2880, 47), (3840, 40)]
        .map(|(at, key)| {
            let (at, until) = (Ticks(at), Ticks(at + 960));
            SheetNote { at, until, key: KeyNumber::clamped(key), role: None }
        })
        .to_vec();
    let (text, _) = sheet.musicxml();
    let document = read(&text);
    let of_left = |node: &roxmltree::Node<'_, '_>| {
        node.children().any(|c| c.has_tag_name("staff") && c.text() == Some("2"))
    };
    let octave = |note: roxmltree::Node<'_, '_>| {
        let octave = note.descendants().find(|node| node.has_tag_name("octave"));
        octave.and_then(|octave| octave.text().map(str::to_owned))
    };
    let told: Vec<String> = document
        .descendants()
        .filter_map(|node| match node.tag_name().name() {
            "octave-shift" => node.attribute("type").map(str::to_owned),
            "note" if of_left(&node) => octave(node),
            _ => None,
        })
        .collect();
    assert_eq!(told, ["2", "up", "1", "1", "stop", "2", "2"]);
}

#[test]
fn very_low_bars_are_printed_an_octave_up_over_an_8vb() {
    // E1 and B1 in the second and third bar, E2 in the fourth.
    let shape = [(0, -12, Role::Root), (1920, -5, Role::Fifth)];
    let mut sheet = sheet((4, 4), (4, Mode::Major), &["C", "E", "E", "E"], &shape);
    for note in &mut sheet.left {
        let low = (3840..3 * 3840).contains(&note.at.0);
        note.key = KeyNumber::clamped(i32::from(note.key.number()) + if low { 0 } else { 12 });
    }
    let (text, _) = sheet.musicxml();
    let document = read(&text);
    let shifts = document.descendants().filter(|node| node.has_tag_name("octave-shift"));
    let shifts: Vec<_> = shifts
        .map(|node| {
            let measure = node.ancestors().find(|n| n.has_tag_name("measure"));
            (measure.and_then(|m| m.attribute("number")), node.attribute("type"))
        })
        .collect();
    assert_eq!(shifts, [(Some("2"), Some("up")), (Some("3"), Some("stop"))]);
    // The pitch stays what sounds.
    assert!(texts(&document, "octave").contains(&"1"));
}

#[test]
fn a_held_bass_is_a_voice_of_its_own() {
    let mut sheet = sheet((4, 4), (0, Mode::Major), &["C"], &[]);
    let note = |at: i64, until: i64, key: i32, role| SheetNote {
        at: Ticks(at),
        until: Ticks(until),
        key: KeyNumber::clamped(key),
        role: Some(role),
    };
    sheet.left = vec![
        note(0, 3800, 36, Role::Root),
        note(960, 1900, 43, Role::Fifth),
        note(1920, 2800, 48, Role::Octave),
        note(2880, 3800, 43, Role::Fifth),
    ];
    let (text, contents) = sheet.musicxml();
    let document = read(&text);
    assert_eq!(contents.heads, 3 + 4);
    let voices = texts(&document, "voice");
    assert_eq!(voices.iter().filter(|voice| **voice == "3").count(), 1, "the root");
    assert_eq!(voices.iter().filter(|voice| **voice == "2").count(), 4, "a rest and three");
    // Each count once, whichever voice strikes there.
    assert_eq!(texts(&document, "text").join(" "), "2 5 3 8 4 5 1 R");
    let whole = texts(&document, "type").iter().filter(|kind| **kind == "whole").count();
    assert_eq!(whole, 3 + 1, "the chord, and the root that is held under all");
}
