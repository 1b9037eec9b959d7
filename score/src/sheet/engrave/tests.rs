//! Systems as a teacher would look at them.

use super::super::tests::{eighths, sheet};
use super::*;
use crate::sheet::SheetNote;
use sinistra_core::key::Mode;
use sinistra_core::play::Role;

fn glyphs(system: &StaffSystem, wanted: char) -> usize {
    let is = |mark: &&Mark| matches!(mark.shape, Shape::Glyph { glyph, .. } if glyph.0 == wanted);
    system.marks.iter().filter(is).count()
}

fn beams(system: &StaffSystem) -> usize {
    system.marks.iter().filter(|mark| matches!(mark.shape, Shape::Beam { .. })).count()
}

fn words(system: &StaffSystem) -> Vec<&str> {
    let text = |mark| match mark {
        &Mark { shape: Shape::Text { ref text, .. }, .. } => Some(text.as_str()),
        _ => None,
    };
    system.marks.iter().filter_map(text).collect()
}

const FLAT: char = '\u{E260}';
const NATURAL: char = '\u{E261}';
const SHARP: char = '\u{E262}';

#[test]
fn eighths_are_beamed_in_fours_in_common_time_and_in_threes_in_six_eight() {
    for (metre, shape, beamed, flags) in [
        ((4, 4), eighths(), 2, 0),
        ((6, 8), eighths().into_iter().take(6).collect(), 2, 0),
        ((3, 4), eighths().into_iter().take(6).collect(), 3, 0),
        // Short, and each alone in its beat: flags.
        ((3, 4), vec![(0, 0, Role::Root), (1440, 0, Role::Root), (1920, 0, Role::Root)], 0, 3),
    ] {
        let sheet = sheet(metre, (0, Mode::Major), &["C"], &shape);
        let options = EngraveOptions { staves: &[Staff::Left], ..EngraveOptions::ALL };
        let system = Engraver::new(&sheet).system(0..1, None, &options);
        let flagged = glyphs(&system, '\u{E240}') + glyphs(&system, '\u{E241}');
        assert_eq!((beams(&system), flagged), (beamed, flags), "{metre:?}");
    }
}

#[test]
fn only_what_departs_from_the_signature_gets_an_accidental() {
    let sheet = sheet((4, 4), (10, Mode::Major), &["Bb", "D7", "F7b9"], &eighths());
    let system = Engraver::new(&sheet).system(0..3, None, &EngraveOptions::ALL);
    // Two flats in each signature; F♯ in D7, G♭ in F7(♭9).
    assert_eq!(glyphs(&system, FLAT), 4 + 1);
    assert_eq!(glyphs(&system, SHARP), 1);
    // F again after the F♯: a reminder, in parentheses.
    assert_eq!((glyphs(&system, NATURAL), glyphs(&system, '\u{E26A}')), (1, 1));
}

#[test]
fn words_stand_where_they_are_read() {
    let sheet = sheet((4, 4), (10, Mode::Major), &["Bb"], &eighths());
    let system = Engraver::new(&sheet).system(0..1, None, &EngraveOptions::ALL);
    let said = words(&system).join(" ");
    assert!(said.contains("B\u{266D}"), "{said}");
    assert!(said.contains("1 R & R 2 R & R 3 R & R 4 R & 5"), "{said}");
    let without =
        EngraveOptions { counts: false, roles: false, fingers: false, ..EngraveOptions::ALL };
    let system = Engraver::new(&sheet).system(0..1, None, &without);
    assert_eq!(words(&system), ["B\u{266D}"]);
}

#[test]
fn a_line_is_as_wide_as_asked_and_goes_forward() {
    let sheet = sheet((3, 4), (7, Mode::Major), &["G", "Em", "C", "D7"], &eighths()[..6]);
    let engraver = Engraver::new(&sheet);
    for width in [60.0, 80.0, 120.0] {
        let system = engraver.system(0..4, Some(width), &EngraveOptions::ALL);
        assert!((system.width - width).abs() < 0.05, "{} for {width}", system.width);
        for pair in system.columns.windows(2) {
            assert!(pair[0].0 < pair[1].0 && pair[0].1 < pair[1].1, "{pair:?}");
        }
        assert_eq!(system.bars.len(), 4);
        let middle = system.x_of(Ticks(240));
        assert!(system.columns[0].1 < middle && middle < system.columns[1].1);
    }
}

#[test]
fn a_note_over_the_bar_line_is_tied_and_counted_once() {
    let mut sheet = sheet((3, 4), (0, Mode::Major), &["C", "C"], &[]);
    let key = KeyNumber::clamped(37);
    let role = Some(Role::Passing);
    sheet.left = vec![SheetNote { at: Ticks(1920), until: Ticks(3840), key, role }];
    let engraver = Engraver::new(&sheet);
    let ties = |system: &StaffSystem| {
        system.marks.iter().filter(|mark| matches!(mark.shape, Shape::Tie { .. })).count()
    };
    let left = EngraveOptions { staves: &[Staff::Left], ..EngraveOptions::ALL };
    let whole = engraver.system(0..2, None, &left);
    assert_eq!((ties(&whole), glyphs(&whole, SHARP)), (1, 1)); // C♯, and not again
    assert_eq!(whole.heads.iter().filter(|head| head.struck).count(), 1);
    // On two lines: half a tie at the end of one and the start of the other.
    assert_eq!(ties(&engraver.system(0..1, None, &left)), 1);
    assert_eq!(ties(&engraver.system(1..2, None, &left)), 1);
}

/// A note that is held from `at` to `until`, in ticks.
fn held(at: i64, until: i64, key: i32) -> SheetNote {
    let key = KeyNumber::clamped(key);
    SheetNote { at: Ticks(at), until: Ticks(until), key, role: Some(Role::Root) }
}

/// In a bar of C: F3, then C3 held from the second beat over the bar line, and above it
/// D3 and twice E3 in quarters.
fn two_close_voices() -> Sheet {
    let mut sheet = sheet((4, 4), (0, Mode::Major), &["C", "C"], &[]);
    let upper = [(0, 53), (960, 50), (1920, 52), (2880, 52)];
    sheet.left = upper.map(|(at, key)| held(at, at + 900, key)).into();
    sheet.left.push(held(960, 5760, 48));
    sheet
}

/// Of each roll on the staff of the left hand: its x, its top, its bottom.
fn rolls(sheet: &Sheet) -> Vec<(f32, f32, f32)> {
    let left = EngraveOptions { staves: &[Staff::Left], ..EngraveOptions::ALL };
    let system = Engraver::new(sheet).system(0..1, None, &left);
    let roll = |mark: &Mark| match mark.shape {
        Shape::Roll { top, height } => Some((top.x, top.y, top.y + height)),
        _ => None,
    };
    system.marks.iter().filter_map(roll).collect()
}

/// MusicXML has `arpeggiate` at the same strokes (`tests/tests/sheets.rs`).
#[test]
fn a_tenth_has_a_wavy_line_before_its_sign_and_an_octave_none() {
    let both = |above, role| [(0, 0, Role::Root), (0, above, role)];
    let tenth = sheet((4, 4), (0, Mode::Major), &["A"], &both(16, Role::Third));
    let octave = sheet((4, 4), (0, Mode::Major), &["A"], &both(12, Role::Octave));
    assert_eq!(rolls(&octave), []);
    let [(x, top, bottom)] = rolls(&tenth)[..] else { panic!("{:?}", rolls(&tenth)) };
    // From C♯4, the first line above the staff, to A2 in the lowest space.
    assert!((top + 1.5).abs() < 1e-5 && (bottom - 4.0).abs() < 1e-5, "{top} to {bottom}");
    let left = EngraveOptions { staves: &[Staff::Left], ..EngraveOptions::ALL };
    let drawn = Engraver::new(&tenth).system(0..1, None, &left);
    let sharp = drawn.marks.iter().find_map(|mark| match mark.shape {
        Shape::Glyph { glyph, origin, .. } => (glyph.0 == SHARP).then_some(origin.x),
        _ => None,
    });
    let edge = x + mark::ROLL_WAVE + mark::ROLL / 2.0;
    assert!(edge < sharp.expect("a sharp") && edge > 0.0);
}

#[test]
fn what_is_rolled_in_two_voices_has_one_wavy_line() {
    let mut sheet = sheet((4, 4), (0, Mode::Major), &["C", "C"], &[]);
    // C2 is held under E3 and F3.
    sheet.left = vec![held(0, 3840, 36), held(0, 900, 52), held(960, 1900, 53)];
    let [(_, top, bottom)] = rolls(&sheet)[..] else { panic!("{:?}", rolls(&sheet)) };
    assert!((top - 1.0).abs() < 1e-5 && (bottom - 6.5).abs() < 1e-5, "{top} to {bottom}");
}

#[test]
fn the_fingers_of_two_voices_stand_in_one_pile() {
    let sheet = two_close_voices();
    let options = EngraveOptions { staves: &[Staff::Left], counts: false, ..EngraveOptions::ALL };
    let system = Engraver::new(&sheet).system(0..1, None, &options);
    let digits: Vec<(f32, f32)> = system
        .marks
        .iter()
        .filter_map(|mark| match &mark.shape {
            Shape::Text { text, anchor, size, .. } if *size < 1.4 => {
                text.ends_with(|c: char| c.is_ascii_digit()).then_some((anchor.x, anchor.y))
            }
            _ => None,
        })
        .collect();
    // The second E3 keeps the finger of the first, which is not said again.
    assert_eq!(digits.len(), 4, "{digits:?}");
    for (n, a) in digits.iter().enumerate() {
        let apart = |b: &(f32, f32)| (a.0 - b.0).abs() > 1.0 || (a.1 - b.1).abs() > 1.0;
        assert!(digits[n + 1..].iter().all(apart), "two fingers on one place: {digits:?}");
    }
}

#[test]
fn the_lower_of_two_voices_stands_beside_a_head_a_second_above_and_ties_below() {
    let mut sheet = two_close_voices();
    let left = EngraveOptions { staves: &[Staff::Left], ..EngraveOptions::ALL };
    let heads = |sheet: &Sheet| {
        let system = Engraver::new(sheet).system(0..1, None, &left);
        let x = |key: i32| {
            let is = |head: &&PlacedHead| head.key.number() == key as u8 && head.at == Ticks(960);
            system.heads.iter().find(is).expect("a head").x
        };
        let bulge = |mark: &Mark| match mark.shape {
            Shape::Tie { bulge, .. } => Some(bulge),
            _ => None,
        };
        let below = system.marks.iter().find_map(bulge).expect("a tie") > 0.0;
        (x(48) - x(50), below)
    };
    let (apart, below) = heads(&sheet);
    assert!(apart > 1.0 && apart < Glyph::HEAD_BLACK.width(), "{apart}");
    assert!(below);
    // A third apart: one over the other.
    sheet.left[1].key = KeyNumber::clamped(52);
    let system = Engraver::new(&sheet).system(0..1, None, &left);
    let xs: Vec<f32> =
        system.heads.iter().filter(|head| head.at == Ticks(960)).map(|head| head.x).collect();
    assert!(xs.len() >= 2 && (xs[0] - xs[1]).abs() < 1e-5, "{xs:?}");
}

#[test]
fn low_notes_get_ledger_lines_and_counts_stay_clear_of_them() {
    let mut low = sheet((4, 4), (0, Mode::Major), &["E"], &[]);
    let note = |n: i64| SheetNote {
        at: Ticks(960 * n),
        until: Ticks(960 * n + 900),
        key: KeyNumber::clamped(31), // G1, under the third line below the staff
        role: Some(Role::Root),
    };
    low.left = (0..4).map(note).collect();
    let options = EngraveOptions { staves: &[Staff::Left], ..EngraveOptions::ALL };
    let system = Engraver::new(&low).system(0..1, None, &options);
    let head = system.heads[0];
    assert!((head.y - 7.5).abs() < 1e-5);
    for mark in &system.marks {
        if let Shape::Text { anchor, text, .. } = &mark.shape
            && text == "1"
            && anchor.y > 4.0
        {
            assert!(anchor.y - 1.3 > head.y + 0.5, "the count runs into the note");
        }
    }
}

#[test]
fn e1_is_printed_as_e2_over_an_8vb_that_the_count_stays_clear_of() {
    let mut low = sheet((4, 4), (0, Mode::Major), &["E"], &[]);
    let (at, until, key) = (Ticks(0), Ticks(3800), KeyNumber::clamped(28));
    low.left = vec![SheetNote { at, until, key, role: Some(Role::Root) }];
    let options = EngraveOptions { staves: &[Staff::Left], ..EngraveOptions::ALL };
    let system = Engraver::new(&low).system(0..1, None, &options);
    assert!((system.heads[0].y - 5.0).abs() < 1e-5); // on the first line below
    let place = |wanted: &str| {
        system.marks.iter().find_map(|mark| match &mark.shape {
            Shape::Text { anchor, text, .. } if text == wanted && anchor.y > 4.0 => Some(anchor.y),
            _ => None,
        })
    };
    let (octave, count) = (place("8vb").expect("an 8vb"), place("1").expect("a count"));
    assert!(octave > 5.5 && count - 1.3 > octave);
}

#[test]
fn pages_keep_everything_on_the_paper() {
    let names = vec!["Bb"; 40];
    let sheet = sheet((4, 4), (10, Mode::Major), &names, &eighths());
    let pages = pages(&sheet, &Layout::ALL);
    assert!(pages.len() > 1);
    for page in &pages {
        for mark in &page.marks {
            let (top, bottom) = canvas::extent(&mark.shape);
            assert!(top > 0.0 && bottom < page.height, "{mark:?}");
            if let Shape::Line { from, to, .. } = mark.shape {
                assert!(from.x > 0.0 && to.x < page.width, "{mark:?}");
            }
        }
    }
}
