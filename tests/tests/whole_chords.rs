//! Chords struck whole, as most players of one hand strike them: every change of every
//! song begins with its root, in all keys, in simple, compound and odd metres, in every
//! close position. 14,256 changes: nine rows of eleven chords, twelve keys, four metres,
//! three positions. Tones that another chord has as well may be that one, unless the root
//! lies lowest: Bm7b5 on D is Dm6, Gsus4 on C is Csus2, Am7 on C is C6 (common practice).

use std::fmt::Write;
use std::thread;

use sinistra_core::chord::{Chord, Kind, Symbol};
use sinistra_core::engine::{Engine, Settings};
use sinistra_core::key::Key;
use sinistra_core::pitch::{KeyNumber, PitchClass, Semitones};
use sinistra_core::time::{Metre, Ticks};
use sinistra_tests::{RightHandTake, STUDIO, pattern};

/// Rows of chords in C, of the kinds and the ways on that a book of harmony has: primary
/// triads, falling fifths, secondary and deceptive cadences, minor mode, sevenths,
/// suspensions, steps, thirds (common practice).
const ROWS: [&str; 9] = [
    "C F G C Am F G Em Am Dm G",
    "C Am Dm G Em Am Dm G C F G",
    "C D G E Am A Dm G Am F G",
    "Am Dm E Am F G C E Am Dm E",
    "Cmaj7 Fmaj7 Bm7b5 E7 Am Dm7 G7 Cmaj7 A7 Dm7 G7",
    "Csus4 C Gsus4 G Am Dsus4 D Gsus4 G7 C F",
    "C Bdim C Dm Em F Fm C G7 Am G",
    "C Eb F Ab Bb C Em G Bm D G",
    "C G Bb F Ab Eb Db Ab F G7 C",
];

const METRES: [(u8, u8); 4] = [(4, 4), (3, 4), (6, 8), (5, 4)];

fn chords() -> Vec<Chord> {
    let names = ROWS.iter().flat_map(|row| row.split_whitespace());
    names.map(|name| Symbol::read(name).expect("a chord").chord()).collect()
}

/// `chord` in close position from middle C up, so many of its tones turned up: keys by
/// name.
fn position(chord: Chord, turned: usize) -> String {
    let up = |n: i32| chord.root.transpose(Semitones(n));
    let tones: Vec<PitchClass> = (0..12).map(up).filter(|c| chord.tones().has(*c)).collect();
    let lowest = tones[turned % tones.len()];
    let middle = KeyNumber::MIDDLE_C;
    let first = i32::from(middle.number()) + i32::from(lowest.above(middle.class()));
    let mut names = String::new();
    for tone in &tones {
        let key = first + i32::from(tone.above(lowest));
        let _ = write!(names, "{}{} ", Key::C_MAJOR.spell(*tone).ascii(), key / 12 - 1);
    }
    names
}

/// The root of another whole chord of the same tones.
fn also(chord: Chord) -> Option<PitchClass> {
    let up = match chord.quality.kind() {
        Kind::HalfDiminished | Kind::MinorSeventh => 3,
        Kind::SuspendedFourth => 5,
        _ => return None,
    };
    Some(chord.root.transpose(Semitones(up)))
}

/// What is wrong in one key, metre and position, and how many changes there were.
fn wrong(by: i32, metre: Metre, turned: usize) -> (usize, Vec<String>) {
    let bar = metre.bar().beats();
    let chords: Vec<Chord> = chords().into_iter().map(|c| c.transpose(Semitones(by))).collect();
    let keys: Vec<String> = chords.iter().map(|chord| position(*chord, turned)).collect();
    let held = keys.iter().enumerate().map(|(n, keys)| {
        let from = n as f64 * bar;
        (from, from + bar - 0.05, keys.as_str())
    });
    let take = RightHandTake::of_chords(metre, 160.0, &held.collect::<Vec<_>>());
    let mut engine = Engine::new(Settings::default(), pattern(Some("everything-mixed")));
    let notes = take.played_by(&mut engine, STUDIO);
    let mut wrong = Vec::new();
    for (n, chord) in chords.iter().enumerate() {
        let at = n as f64 * bar;
        let near = |at: Ticks, there: f64| (at.beats() - there).abs() <= 0.125;
        let first = notes.iter().find(|note| near(note.played.at, at));
        let bass = first.map(|note| note.played.key.class());
        let other = also(*chord).filter(|_| turned > 0);
        if bass != Some(chord.root) && (bass.is_none() || bass != other) {
            let name = Symbol::of(*chord, Key::C_MAJOR).ascii();
            wrong.push(format!("{metre:?}, {}({name}): {bass:?}", keys[n]));
        }
    }
    (chords.len(), wrong)
}

#[test]
fn every_chord_that_is_struck_whole_begins_with_its_root() {
    let parts: Vec<_> = thread::scope(|scope| {
        let parts: Vec<_> = (0..12).map(|by| scope.spawn(move || in_key(by))).collect();
        parts.into_iter().map(|part| part.join().expect("a key")).collect()
    });
    let changes: usize = parts.iter().map(|(changes, _)| changes).sum();
    let wrong: Vec<_> = parts.into_iter().flat_map(|(_, wrong)| wrong).collect();
    assert_eq!(changes, 14_256);
    assert!(wrong.is_empty(), "{} are wrong:\n{}", wrong.len(), wrong.join("\n"));
}

fn in_key(by: i32) -> (usize, Vec<String>) {
    let mut all = (0, Vec::new());
    for (beats, unit) in METRES {
        let metre = Metre::new(beats, unit).expect("a metre");
        for turned in 0..3 {
            let (changes, wrong) = wrong(by, metre, turned);
            all.0 += changes;
            all.1.extend(wrong);
        }
    }
    all
}
