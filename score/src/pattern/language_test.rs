//! What the pattern language says, and what it refuses.

#![allow(clippy::panic, reason = "a helper that fails fails its test")]

use super::PatternFile;
use sinistra_core::play::{FigureOf, Held, Pattern, Voice, Wish};
use sinistra_core::time::{Metre, Place, Ticks};

fn file(rows: &str) -> String {
    format!("name = \"x\"\n[[bar]]\nmetre = \"4/4\"\n{rows}\n")
}

fn compiled(rows: &str) -> Box<Pattern> {
    PatternFile::compile("p.toml", &file(rows)).expect(rows)
}

/// Offset, strokes, how long, accent, of a voice.
fn voice(pattern: &Pattern, voice: Voice) -> Vec<(i64, Vec<Vec<Wish>>, Held, bool)> {
    let place = Place::first(Metre::COMMON);
    let slots = pattern.bar(place, 0).iter().filter(|slot| slot.written());
    let parts = slots.filter_map(|slot| Some((slot.offset.0, pattern.part(slot, voice)?)));
    parts
        .map(|(at, part)| {
            let strokes = part.strokes.iter().map(|stroke| stroke.to_vec()).collect();
            (at, strokes, part.held, part.accent)
        })
        .collect()
}

#[test]
fn two_voices_strokes_lengths_and_accents() {
    let pattern = compiled(
        "count = \"1 & 2 3 4\"\n\
         play  = \"- fifth_ third+seventh/chord. rest >tenth:1.5\"\n\
         bass  = \">root:change - - - -\"",
    );
    assert!(pattern.has_two_voices());
    let bass = voice(&pattern, Voice::Bass);
    assert_eq!(bass, [(0, vec![vec![Wish::Root]], Held::Change, true)]);
    assert_eq!(
        voice(&pattern, Voice::Tenor),
        [
            (480, vec![vec![Wish::Fifth]], Held::Joined, false),
            (960, vec![vec![Wish::Third, Wish::Seventh], vec![Wish::Chord]], Held::Detached, false),
            (1920, vec![], Held::Usual, false),
            (2880, vec![vec![Wish::Tenth]], Held::For(Ticks(1440)), true),
        ]
    );
}

#[test]
fn ties_add_up_over_places_and_the_bar_line() {
    let pattern = compiled("count = \"1 & 2 4 | 1 3\"\nplay = \"root _ _ fifth | _ root\"");
    let held: Vec<_> = voice(&pattern, Voice::Bass).into_iter().map(|row| row.2).collect();
    // An eighth, an eighth and a half; a quarter and a half.
    assert_eq!(held, [Held::For(Ticks(480 + 480 + 1920)), Held::For(Ticks(960 + 1920))]);
}

#[test]
fn what_cannot_be_played_is_said_with_its_place() {
    for (rows, expected) in [
        ("count = \"1 2\"\nplay = \"_ root\"", "p.toml:5:9: a tie to nothing"),
        ("count = \"1 2 3\"\nplay = \"root - _\"", "p.toml:5:16: a tie to nothing"),
        ("count = \"1 2\"\nplay = \"root:2 _\"", "p.toml:5:16: its note has a length already"),
        ("count = \"1\"\nplay = \"root:soon\"", "p.toml:5:14: `soon` is no length"),
        (
            "count = \"1\"\nplay = \"third-up\"\nbass = \"octave-up\"",
            "p.toml:5:9: the voices cross",
        ),
        ("count = \"1\"\nplay = \"octave-up+root+third+fifth+seventh\"", "p.toml:5:"),
        ("count = \"1\"\nplay = \"tenth+octave-up\"", "p.toml:5:9: `octave-up` lies below `tenth`"),
        ("count = \"1\"\nplay = \"chord+root\"", "p.toml:5:9: `chord` stands alone"),
        ("count = \"1 5\"\nplay = \"root root\"", "p.toml:4:12: there is no count `5` in 4/4"),
        ("count = \"1 2\"\nplay = \"root root\"\nbass = \"root\"", "p.toml:6:9: 2 places"),
    ] {
        let faults = PatternFile::read("p.toml", &file(rows)).expect_err(rows).to_string();
        assert!(faults.starts_with(expected), "{rows}\n{faults}");
        assert!(faults.contains("hint: "), "{faults}");
    }
}

#[test]
fn a_stroke_wider_than_the_hand_is_a_fault_where_nothing_is_rolled() {
    let bar = "[[bar]]\nmetre = \"4/4\"\ncount = \"1\"\nplay = \"root+tenth\"\n";
    let rolled = format!("name = \"x\"\n{bar}");
    assert!(PatternFile::read("p.toml", &rolled).is_ok());
    let flat = format!("name = \"x\"\nrolls = false\n{bar}");
    let faults = PatternFile::read("p.toml", &flat).expect_err("too wide").to_string();
    assert!(faults.starts_with("p.toml:6:9: `root+tenth` spans 15 semitones"), "{faults}");
    let narrow = flat.replace("root+tenth", "root+fifth+octave-up");
    assert!(PatternFile::read("p.toml", &narrow).is_ok());
}

#[test]
fn two_voices_are_printed_as_they_are_read() {
    let text = "\
name = \"Two\"
about = \"\"
rolls = false

[[bar]]
metre = \"4/4\"
count = \"1           2     | 1    3\"
play  = \"-           chord | >root third+seventh.\"
bass  = \"root:change -     | _    fifth\"
";
    let text = text.replace("| _    fifth", "| -    fifth").replace("| 1    3", "| 1     3");
    let read = PatternFile::read("a.toml", &text).expect("good");
    let again = PatternFile::read("b.toml", &read.print()).expect("good");
    assert_eq!(read, again);
    assert!(
        read.print().contains("bass  = \"root:change -     | -     fifth\""),
        "{}",
        read.print()
    );
}

#[test]
fn a_style_draws_from_the_library_in_every_metre() {
    let text = "name = \"x\"\nabout = \"y\"\ndraws = [\"stride\", \"jazz waltz\", \"Tenths\"]\n";
    let file = PatternFile::read("p.toml", text).expect("a style");
    assert_eq!(file.draws, ["stride", "jazz waltz", "Tenths"]);
    assert_eq!(file.print(), text);
    let pattern = PatternFile::compile("p.toml", text).expect("a style");
    assert!(pattern.draws());
    let place = Place::first(Metre::COMMON);
    let drawn = |metre, seed| pattern.why(Place { metre, ..place }, seed).figure;
    let waltz = Metre::new(3, 4).expect("a metre");
    let four: std::collections::HashSet<_> =
        (1..60).map(|seed| format!("{:?}", drawn(Metre::COMMON, seed))).collect();
    let mut four: Vec<_> = four.into_iter().collect();
    four.sort();
    assert_eq!(four, ["Library(22)", "Library(25)"], "what is written in four");
    assert!((1..60).any(|seed| drawn(waltz, seed) == FigureOf::Library(24)));
}

#[test]
fn a_style_that_cannot_be_drawn_from_is_said_with_its_place() {
    let told = |list: &str| {
        let text = format!("name = \"x\"\ndraws = {list}\n");
        PatternFile::compile("p.toml", &text).expect_err(list).to_string()
    };
    for (list, says) in [
        ("[]", "p.toml:2:9: a style without a left hand to draw from"),
        ("[\"stride\", \"polkka\"]", "p.toml:2:20: no left hand of the library is called `polkka`"),
        ("[\"free-hand\"]", "p.toml:2:10: `free-hand` improvises itself"),
        ("[\"style-jazz\"]", "p.toml:2:10: `style-jazz` improvises itself"),
        ("[\"stride\", \"22\"]", "p.toml:2:20: `22` is named twice"),
    ] {
        assert!(told(list).starts_with(says), "{}", told(list));
    }
    assert!(
        told("[\"polkka\"]").contains("hint: there are roots-on-the-beat, "),
        "{}",
        told("[\"x\"]")
    );
}
