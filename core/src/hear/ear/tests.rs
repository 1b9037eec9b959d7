//! What a pianist would expect of an ear.

use proptest::prelude::*;

use super::*;
use crate::chord::Kind;
use crate::pitch::PitchClass;
use crate::time::Metre;

const BEAT: i64 = Ticks::PER_BEAT;

fn place(at: Ticks) -> Place {
    Place::first(Metre::COMMON).of(at)
}

fn key(number: i32) -> KeyNumber {
    KeyNumber::clamped(number)
}

fn ask(ear: &mut Ear, at: i64) -> Hearing {
    ear.listen(Ticks(at), place(Ticks(at)), 120.0, &Expected::NOTHING)
}

/// Strikes keys at `at`, lets them settle, and gives both answers.
fn strike(ear: &mut Ear, at: i64, keys: &[i32]) -> (Hearing, Hearing) {
    keys.iter().for_each(|&k| ear.note_on(Ticks(at), key(k), 80));
    let first = ask(ear, at);
    let due = ear.due().map_or(at, |due| due.0);
    (first, ask(ear, due))
}

fn release(ear: &mut Ear, at: i64, keys: &[i32]) {
    keys.iter().for_each(|&k| ear.note_off(Ticks(at), key(k)));
}

fn root(hearing: Hearing) -> Option<usize> {
    hearing.chord.map(|chord| chord.root.index())
}

#[test]
fn a_jump_under_a_held_chord_tells_of_no_more_bars_than_one() {
    let frames_told = |beats: i64| {
        let mut ear = Ear::new(KeyNumber::MIDDLE_C);
        strike(&mut ear, 0, &[60, 64, 67]);
        ask(&mut ear, beats * BEAT);
        ear.felt.told().1 * 512.0 // of so many frames a song is well known
    };
    assert_eq!(frames_told(2), 8.0); // of sixteenths
    assert_eq!(frames_told(60), 17.0); // and the one that is not over
}

#[test]
fn after_a_jump_the_past_is_not_the_song_s() {
    for (to, frames) in [(8 + 65, 2), (8 - 10, 2), (8 + 63, 63 * 4)] {
        let mut ear = Ear::new(KeyNumber::MIDDLE_C);
        strike(&mut ear, 0, &[60, 64, 67]);
        ear.pass(Ticks(8 * BEAT));
        let before = ear.past.now();
        ear.pass(Ticks(to * BEAT));
        assert_eq!(ear.past.now() - before, frames, "to beat {to}");
    }
}

#[test]
fn block_chords_are_known_at_once_in_every_key_and_inversion() {
    for tonic in 0..12 {
        let mut ear = Ear::new(KeyNumber::MIDDLE_C);
        // I vi IV V iii ii, close, each inversion in turn.
        let chords = [[0, 4, 7], [9, 12, 16], [5, 9, 12], [7, 11, 14], [4, 7, 11], [2, 5, 9]];
        for (bar, chord) in chords.into_iter().enumerate() {
            let at = bar as i64 * 4 * BEAT;
            let turned: Vec<i32> = chord
                .iter()
                .enumerate()
                .map(|(i, tone)| 60 + (tone + tonic) % 12 + if i < bar % 3 { 12 } else { 0 })
                .collect();
            let (first, settled) = strike(&mut ear, at, &turned);
            let expected = Some(((chord[0] + tonic) % 12) as usize);
            assert_eq!((root(first), root(settled)), (expected, expected), "{turned:?} in {tonic}");
            assert_eq!(settled.since, Ticks(at));
            release(&mut ear, at + 4 * BEAT - 10, &turned);
        }
    }
}

#[test]
fn a_melody_over_a_held_chord_does_not_change_it() {
    let mut ear = Ear::new(KeyNumber::MIDDLE_C);
    strike(&mut ear, 0, &[60, 64, 67]);
    for (beat, note) in [(1, 76), (2, 77), (3, 79)] {
        let (_, heard) = strike(&mut ear, beat * BEAT, &[note]);
        assert_eq!(root(heard), Some(0), "beat {beat}");
        release(&mut ear, beat * BEAT + BEAT - 1, &[note]);
    }
}

#[test]
fn a_broken_chord_is_gathered() {
    let mut ear = Ear::new(KeyNumber::MIDDLE_C);
    let mut heard = Hearing::default();
    for bar in 0..2 {
        for (i, note) in [60, 64, 67, 72, 67, 64, 67, 64].into_iter().enumerate() {
            let at = (bar * 8 + i as i64) * BEAT / 2;
            heard = strike(&mut ear, at, &[note]).1;
            release(&mut ear, at + BEAT / 2 - 1, &[note]);
        }
    }
    assert_eq!(root(heard), Some(0));
    assert_eq!(heard.chord.map(|c| c.quality.kind()), Some(Kind::Major));
}

#[test]
fn an_inversion_is_no_slash_chord_but_the_own_left_hand_makes_one() {
    let mut ear = Ear::new(KeyNumber::MIDDLE_C);
    let (_, heard) = strike(&mut ear, 0, &[64, 67, 72]);
    assert_eq!(heard.chord, Some(Chord::new(PitchClass::C, Kind::Major)));
    let (_, heard) = strike(&mut ear, BEAT, &[43]);
    assert_eq!(heard.chord.map(|c| (c.root.index(), c.bass.index())), Some((0, 7)));
}

#[test]
fn what_is_past_is_judged_again_and_odds_of_it_add_up_to_one() {
    let mut ear = Ear::new(KeyNumber::MIDDLE_C);
    let bar = Ticks(4 * BEAT);
    for (n, keys) in [[60, 64, 67], [65, 69, 72], [67, 71, 74]].iter().enumerate() {
        let at = bar * n as i64;
        strike(&mut ear, at.0, keys);
        for half in 1..8 {
            let now = at + Ticks(half * BEAT / 2);
            while ear.think(now, place(now)) {}
        }
        release(&mut ear, (at + bar).0 - 10, keys);
    }
    let was = |root| ear.was(bar, bar * 2, PitchClass::new(root)).expect("it was judged");
    assert!(was(5) > 0.8, "{}", was(5));
    let all: f32 = (0..12).map(was).sum();
    assert!((all - 1.0).abs() < 1e-3, "{all}");
    assert_eq!(ear.was(bar * 9, bar * 10, PitchClass::C), None, "not heard yet");
}

#[test]
fn the_sustain_pedal_does_not_blur_a_new_chord() {
    let mut ear = Ear::new(KeyNumber::MIDDLE_C);
    ear.control(Ticks(0), 64, 127);
    strike(&mut ear, 0, &[60, 64, 67]);
    release(&mut ear, BEAT, &[60, 64, 67]);
    let (_, heard) = strike(&mut ear, 4 * BEAT, &[62, 65, 69]);
    assert_eq!(root(heard), Some(2));
}

#[test]
fn a_jump_back_keeps_what_is_held() {
    let mut ear = Ear::new(KeyNumber::MIDDLE_C);
    strike(&mut ear, 32 * BEAT, &[60, 64, 67]);
    let heard = ask(&mut ear, 0);
    assert_eq!(root(heard), Some(0));
    release(&mut ear, BEAT, &[60, 64, 67]);
    let (_, heard) = strike(&mut ear, BEAT, &[65, 69, 72]);
    assert_eq!(root(heard), Some(5));
}

#[test]
fn nothing_played_nothing_heard() {
    let mut ear = Ear::new(KeyNumber::MIDDLE_C);
    let heard = ask(&mut ear, 0);
    assert_eq!((heard.chord, heard.changed, heard.settled), (None, false, true));
}

proptest! {
    #[test]
    fn whatever_is_played_the_answer_makes_sense(
        events in prop::collection::vec((0u8..4, any::<u8>(), any::<u8>(), -2000i64..6000), 0..120),
    ) {
        let mut ear = Ear::new(KeyNumber::MIDDLE_C);
        let mut at = 0i64;
        for (what, a, b, step) in events {
            at += step;
            match what {
                0 => ear.note_on(Ticks(at), key((a & 127).into()), b.max(1)),
                1 => ear.note_off(Ticks(at), key((a & 127).into())),
                2 => ear.control(Ticks(at), a, b),
                _ => ear.set_split(key((a & 127).into())),
            }
            let heard = ask(&mut ear, at);
            prop_assert!((0.0..=1.0001).contains(&heard.certainty), "{heard:?}");
            prop_assert!(heard.settled == ear.due().is_none());
            prop_assert!((1..=127).contains(&ear.loudness()));
        }
    }
}
