//! After the hand has let go: what was held last goes on, or rests; no other chord is
//! guessed into the silence unless it is as sure as the player wants it.

use sinistra_core::engine::{Engine, Settings};
use sinistra_core::time::{Metre, Ticks};
use sinistra_tests::{RightHandTake, STUDIO, pattern};

/// The left hand in the silence after bars of `chords`, each held to just before its
/// bar line, the last let go so many beats before its own: every stroke that is not of
/// that last chord, and how many notes there are in all.
fn guessed(metre: Metre, chords: &[&str], beats: f64, name: &str, certainty: f32) -> Vec<String> {
    let bar = metre.bar().beats();
    let (mut held, last) = (Vec::new(), chords.len() - 1);
    for (n, keys) in chords.iter().enumerate() {
        let from = n as f64 * bar;
        let until = from + bar - if n == last { beats } else { 0.1 };
        held.push((from, until, *keys));
    }
    let mut take = RightHandTake::of_chords(metre, 100.0, &held);
    take.end = Ticks::nearest((chords.len() + 4) as f64 * bar);
    let settings = Settings { certainty, ..Settings::default() };
    let notes = take.played_by(&mut Engine::new(settings, pattern(Some(name))), STUDIO);
    let line = last as f64 * bar;
    let lasts = notes.iter().rfind(|note| note.played.at.beats() <= line + 0.01);
    let lasts = lasts.map(|note| note.played.chord).expect("the last chord has its bass");
    let after = notes.iter().filter(|note| note.played.at.beats() > line + bar - beats);
    after
        .filter(|note| !note.played.chord.same_bass(lasts))
        .map(|note| format!("{:?} {:?} {}", note.played.at, note.played.chord, note.played.sure))
        .collect()
}

/// What is guessed in many metres, songs and left hands.
fn guesses(certainty: f32) -> Vec<String> {
    let songs: [&[&str]; 5] = [
        &["C4 E4 G4"],
        &["C4 E4 G4", "C4 F4 A4"],
        &["C4 E4 G4", "C4 E4 A4", "C4 F4 A4", "D4 G4 B4"],
        &["D4 F#4 A4", "D4 G4 B4", "D4 F#4 A4"],
        &["A4 C5 E5", "A4 C5 F5", "G4 C5 E5", "G4 B4 D5"],
    ];
    let mut guesses = Vec::new();
    for (beats, unit) in [(3, 4), (4, 4), (6, 8), (2, 4), (5, 4)] {
        let metre = Metre::new(beats, unit).expect("a metre");
        for (song, before) in songs.into_iter().zip([0.25, 0.5, 1.0, 0.5, 1.0]) {
            for name in ["everything-mixed", "waltz", "walking-bass", "free-hand", "thirds"] {
                for guess in guessed(metre, song, before, name, certainty) {
                    guesses.push(format!("{beats}/{unit} {song:?} {before} {name}: {guess}"));
                }
            }
        }
    }
    guesses
}

#[test]
fn no_chord_is_guessed_into_silence_below_the_players_threshold() {
    let guesses = guesses(1.0);
    assert!(guesses.is_empty(), "{} guesses:\n{}", guesses.len(), guesses.join("\n"));
}

#[test]
fn a_player_who_wants_no_certainty_gets_guesses() {
    assert!(!guesses(0.0).is_empty(), "the test above could not fail");
}
