//! What the hand decides, a moment at a time.

use super::*;
use crate::chord::{Chord, Kind, Symbol};
use crate::foresee::{Forecast, Source};
use crate::key::Key;
use crate::pitch::PitchClass;
use crate::play::reach::PlayableKeys;
use crate::play::{Parts, Wishes, WrittenBars, tenor};
use crate::time::{Metre, Place};

const BAR: Place = Place::first(Metre::COMMON);

fn chord(root: i32) -> Chord {
    Chord::new(PitchClass::new(root), Kind::Major)
}

fn moment(at: i64, root: i32, starts: bool) -> Moment {
    Moment {
        first: PitchClass::new(root),
        at: Ticks(at),
        place: BAR.of(Ticks(at)),
        chord: chord(root),
        starts,
        next: None,
        key: Key::C_MAJOR,
        ceiling: KeyNumber::MIDDLE_C,
        loudness: 80,
        tempo: 120.0,
    }
}

/// A bar of eighths in common time, a word each, as a pattern file writes it.
fn pattern(play: &str) -> Box<Pattern> {
    let wishes = |word: &str| word.split('/').filter_map(Wish::from_name).collect::<Wishes>();
    let places = (0..).map(|n| Ticks(n * 480)).zip(play.split_whitespace().map(wishes));
    let bar = places.filter(|(_, wishes)| !wishes.is_empty());
    Box::new(of_bar(bar.map(|(at, wishes)| (at, Parts::bass(Part::plain(&wishes)))).collect()))
}

/// The same bar in common time again and again.
fn of_bar(bar: Vec<(Ticks, Parts)>) -> Pattern {
    let written = [WrittenBars { library: 0, metre: Metre::COMMON, bars: vec![bar] }];
    Pattern::new("x", "", &written, &[Wish::Root].into_iter().collect())
}

fn slot(pattern: &Pattern, at: i64) -> SlotAt {
    pattern.next_slot(BAR, Ticks(at - 1), &Settings::default()).expect("a slot")
}

fn to_a(at: i64, certainty: f32, when_certainty: f32) -> Option<Forecast> {
    let forecast = Forecast::new(chord(9), Ticks(at), certainty, Source::Memory);
    Some(Forecast { when_certainty, together: certainty.min(when_certainty), ..forecast })
}

#[test]
fn a_note_leads_only_if_chord_and_time_are_sure_and_near() {
    let pattern = pattern("root lead/third root lead/third root lead/third root lead/third");
    for (next, expected) in [
        (to_a(3840, 0.9, 0.9), Role::Passing),
        (to_a(3840, 0.6, 0.9), Role::Root),         // what chord?
        (to_a(3840, 0.9, 0.6), Role::Root),         // when?
        (None, Role::Root),                         // a bar line: it may change
        (to_a(7680, 0.9, 0.9), Role::Third),        // not yet, surely
        (to_a(3360, 0.9, 0.9), Role::Root),         // overdue
        (to_a(3840 + 60, 0.9, 0.9), Role::Passing), // a little off the grid
    ] {
        let settings = Settings::default();
        let mut hand = LeftHand::new();
        hand.stroke(&pattern, slot(&pattern, 0), &moment(0, 0, true), &settings);
        let moment = Moment { next, ..moment(3360, 0, false) };
        let stroke = hand.stroke(&pattern, slot(&pattern, 3360), &moment, &settings);
        let role = match stroke.first() {
            // Without a sure chord there is nothing else to play here.
            None => Role::Root,
            Some(note) => note.role,
        };
        assert_eq!(role, expected, "{next:?}");
    }
}

/// A passing note lies on the scale, a step from both (any handbook of harmony).
#[test]
fn a_note_passes_between_roots_a_third_apart_each_way() {
    let pattern = pattern("root root root root root root root lead");
    for (root, next, passes) in [(0, 9, 11), (9, 0, 11), (7, 4, 5), (4, 7, 5), (5, 2, 4), (2, 5, 4)]
    {
        let settings = Settings::default();
        let mut hand = LeftHand::new();
        hand.stroke(&pattern, slot(&pattern, 0), &moment(0, root, true), &settings);
        let sure = Forecast::new(chord(next), Ticks(3840), 1.0, Source::Chart);
        let sure = Forecast { when_certainty: 1.0, together: 1.0, ..sure };
        let leading = Moment { next: Some(sure), ..moment(3360, root, false) };
        let stroke = hand.stroke(&pattern, slot(&pattern, 3360), &leading, &settings);
        let note = stroke.first().map(|note| (note.key.class().index(), note.role));
        assert_eq!(note, Some((passes, Role::Passing)), "{root} to {next}");
    }
}

#[test]
fn the_root_keeps_the_promise_of_the_note_that_led() {
    let pattern = pattern("root root root root root root root lead");
    let settings = Settings::default();
    let mut hand = LeftHand::new();
    hand.stroke(&pattern, slot(&pattern, 0), &moment(0, 0, true), &settings);
    let leading = Moment { next: to_a(3840, 1.0, 1.0), ..moment(3360, 0, false) };
    let b = hand.stroke(&pattern, slot(&pattern, 3360), &leading, &settings)[0];
    let a = hand.stroke(&pattern, slot(&pattern, 3840), &moment(3840, 9, true), &settings)[0];
    assert_eq!(b.key.distance(a.key).0, 2, "a step down into the root");
    // Wrong after all: any other root is found without a jump.
    let mut wrong = hand;
    let f = wrong.stroke(&pattern, slot(&pattern, 3840), &moment(3840, 5, true), &settings)[0];
    assert!(f.key.distance(a.key).0.abs() <= 6);
}

#[test]
fn every_root_lies_below_the_right_hand_or_rests() {
    let pattern = pattern("octaves third fifth octave-up root octave-down third fifth");
    for ceiling in 28..=72 {
        let mut hand = LeftHand::new();
        for at in 0..8 {
            let ceiling = KeyNumber::clamped(ceiling);
            let moment = Moment { ceiling, ..moment(at * 480, 7, at == 0) };
            let slot = slot(&pattern, at * 480);
            for note in hand.stroke(&pattern, slot, &moment, &Settings::default()) {
                assert!(note.key < ceiling && note.key.number() >= 28);
            }
        }
        assert_eq!(hand.home.is_some(), ceiling > 31, "G1 is the lowest G: {ceiling}");
    }
}

#[test]
fn a_narrow_range_still_has_its_root() {
    let pattern = pattern("octaves octave-up fifth third root root root root");
    let settings = Settings {
        lowest: KeyNumber::clamped(40),
        highest: KeyNumber::clamped(51),
        ..Settings::default()
    };
    for root in 0..12 {
        let mut hand = LeftHand::new();
        let stroke = hand.stroke(&pattern, slot(&pattern, 0), &moment(0, root, true), &settings);
        assert_eq!(stroke.len(), 1, "no room for an octave");
        assert!((40..=51).contains(&stroke[0].key.number()));
    }
}

#[test]
fn a_note_lasts_as_long_as_the_player_wishes() {
    let pattern = pattern("root - root - root - root -");
    for (length, until) in [(1.0, 960), (0.5, 480), (0.1, 96)] {
        let settings = Settings { length, ..Settings::default() };
        let stroke =
            LeftHand::new().stroke(&pattern, slot(&pattern, 0), &moment(0, 0, true), &settings);
        assert_eq!(stroke[0].until, Ticks(until), "{length}");
    }
}

#[test]
fn a_slot_that_only_leads_does_not_cut_the_note_before_it() {
    let pattern = pattern("root lead root lead root lead root lead");
    let settings = Settings { length: 1.0, ..Settings::default() };
    let until = |next| {
        let moment = Moment { next, ..moment(2880, 0, true) };
        let mut hand = LeftHand::new();
        hand.stroke(&pattern, slot(&pattern, 2880), &moment, &settings)[0].until
    };
    assert_eq!(until(None), Ticks(3840));
    assert_eq!(until(to_a(3840, 1.0, 1.0)), Ticks(3360)); // there a B passes
}

#[test]
fn the_loudness_follows_the_right_hand_and_the_accent() {
    let pattern = pattern("root root root root root root root root");
    let settings = Settings::default();
    let velocity = |at, loudness| {
        let mut hand = LeftHand::new();
        hand.stroke(&pattern, slot(&pattern, 0), &moment(0, 0, true), &settings);
        let moment = Moment { loudness, ..moment(at, 0, false) };
        hand.stroke(&pattern, slot(&pattern, at), &moment, &settings)[0].velocity
    };
    assert!(velocity(1920, 80) > velocity(960, 80));
    assert!(velocity(960, 80) > velocity(480, 80));
    assert!(velocity(960, 100) > velocity(960, 40));
    assert_eq!(velocity(480, 1), 1);
}

#[test]
fn no_two_strokes_follow_faster_than_a_hand_can() {
    let pattern = pattern("root root root root root root root root");
    let settings = Settings::default();
    let mut hand = LeftHand::new();
    let fast = |at, starts| Moment { tempo: 280.0, ..moment(at, 0, starts) };
    hand.stroke(&pattern, slot(&pattern, 0), &fast(0, true), &settings);
    // An eighth at 280 lasts 107 ms, a quarter 214 ms.
    assert!(hand.stroke(&pattern, slot(&pattern, 480), &fast(480, false), &settings).is_empty());
    assert!(!hand.stroke(&pattern, slot(&pattern, 960), &fast(960, false), &settings).is_empty());
    // Nor the root of a sure change: what comes just before it stays out.
    for (certainty, empty) in [(0.9, true), (0.2, false)] {
        let next = to_a(2000, certainty, certainty);
        let before = Moment { next, ..fast(1920, false) };
        let stroke = { hand }.stroke(&pattern, slot(&pattern, 1920), &before, &settings);
        assert_eq!(stroke.is_empty(), empty, "{certainty}");
    }
}

#[test]
fn where_there_is_no_time_for_both_the_beat_stays_and_not_what_fills_it() {
    let pattern = pattern("root root root root root root root root");
    for busy in [50, 75, 100] {
        let settings = Settings { busy, ..Settings::default() };
        for tempo in [250.0, 270.0, 300.0] {
            let mut hand = LeftHand::new();
            let (mut struck, mut at) = (Vec::new(), slot(&pattern, 0));
            while at.at < Ticks(2 * 3840) {
                let moment = Moment { tempo, ..moment(at.at.0, 0, struck.is_empty()) };
                if !hand.stroke(&pattern, at, &moment, &settings).is_empty() {
                    struck.push(at.at.0);
                }
                at = pattern.next_slot(at.place, at.at, &settings).expect("a slot");
            }
            let beats: Vec<_> = (0..8).map(|beat| beat * 960).collect();
            assert_eq!(struck, beats, "busy {busy}, {tempo} a minute");
        }
    }
}

#[test]
fn the_preview_is_what_is_then_played() {
    let pattern = pattern("root fifth octave-up lead/root root fifth root lead/root");
    let settings = Settings::default();
    let next = to_a(1920, 1.0, 1.0);
    let mut hand = LeftHand::new();
    let mut now = Moment { next, ..moment(0, 0, true) };
    let views = LeftHand::new().preview(&pattern, &mut now, &settings, Ticks(-1), |_, _, _| false);
    let mut played = Vec::new();
    for n in 0..8 {
        let at = n * 480;
        let (root, starts) = if n < 4 { (0, n == 0) } else { (9, n == 4) };
        let moment = Moment { next: next.filter(|_| n < 4), ..moment(at, root, starts) };
        let stroke = hand.stroke(&pattern, slot(&pattern, at), &moment, &settings);
        played.push(stroke.first().map(|note| (note.role, note.key)));
    }
    let seen: Vec<_> = views.iter().map(|view| view.role.zip(view.key)).collect();
    assert_eq!(seen, played);
}

/// Keys of the upper voice's chord above C2; `last` is its lowest key before.
fn upper_voice(symbol: &str, last: Option<i32>) -> Vec<u8> {
    let chord = Symbol::read(symbol).expect("a symbol").chord();
    let moment = Moment { chord, ..moment(0, 0, true) };
    let settings = Settings { highest: KeyNumber::clamped(72), ..Settings::default() };
    let keyboard = PlayableKeys::new(&settings, KeyNumber::clamped(84));
    let part = Part::plain(&[Wish::Chord].into_iter().collect());
    let stand = stand(&pattern("root"), &moment, keyboard, KeyNumber::clamped(36));
    let grip = tenor::stroke(&part, stand, last.map(KeyNumber::clamped));
    grip.iter().map(|(key, _)| key.number()).collect()
}

#[test]
fn the_upper_voice_lies_near_its_middle_and_near_where_it_was() {
    for (last, keys) in [
        (None, [48, 52, 55]),
        (Some(52), [52, 55, 60]),
        (Some(55), [55, 60, 64]),
        (Some(57), [55, 60, 64]), // C4 is farther from A3 and from the middle
    ] {
        assert_eq!(upper_voice("C", last), keys, "{last:?}");
    }
    let classes: Vec<_> = upper_voice("C7", None).iter().map(|key| key % 12).collect();
    assert_eq!(classes.len(), 3);
    assert!(!classes.contains(&0), "the bass has the root: {classes:?}");
}

#[test]
fn a_hand_has_no_more_than_four_keys_in_both_voices() {
    use Wish::{Chord, Fifth, OctaveUp, Root, Tenth};
    for low in [&[Root][..], &[Root, Fifth], &[Root, OctaveUp], &[Root, Fifth, OctaveUp, Tenth]] {
        let bass = Part { strokes: [low.iter().copied().collect()].into(), ..Part::default() };
        let tenor = Part::plain(&[Chord].into_iter().collect());
        let parts = Parts { bass: Some(bass), tenor: Some(tenor) };
        let pattern = of_bar(vec![(Ticks::ZERO, parts)]).rolling(true);
        let settings = Settings { highest: KeyNumber::clamped(84), ..Settings::default() };
        let ceiling = KeyNumber::clamped(96);
        let struck = |root| {
            let mut moment = Moment { ceiling, ..moment(0, root, true) };
            let mut hand = LeftHand::new();
            let stroke = hand.clone().stroke(&pattern, slot(&pattern, 0), &moment, &settings);
            let seen = hand.preview(&pattern, &mut moment, &settings, Ticks(-1), |_, _, _| false);
            assert_eq!(seen[0].keys().count(), stroke.len(), "{low:?} on {root} as it is shown");
            stroke.len()
        };
        assert_eq!((0..12).map(struck).max(), Some(4), "{low:?}");
    }
}

#[test]
fn a_rolled_key_sounds_however_short_its_chord_is() {
    let tones = [Wish::Root, Wish::Fifth, Wish::OctaveUp].into_iter().collect();
    let part = Part { strokes: [tones].into(), rolled: true, ..Part::default() };
    let pattern = of_bar((0..8).map(|n| (Ticks(n * 480), Parts::bass(part.clone()))).collect());
    let settings = Settings { length: 0.05, ..Settings::default() };
    let fast = Moment { tempo: 240.0, ..moment(0, 0, true) };
    let stroke = LeftHand::new().stroke(&pattern, slot(&pattern, 0), &fast, &settings);
    assert!(stroke.len() > 1, "{stroke:?}");
    assert!(stroke.iter().all(|note| note.until > note.from), "{stroke:?}");
}
