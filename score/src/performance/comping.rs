//! When the right hand strikes its chords, and how hard.

use super::voicing::{Voicing, close_to};
use super::{HandNote, full_bar, swung};
use sinistra_core::foresee::Song;
use sinistra_core::key::Key;
use sinistra_core::pitch::KeyNumber;
use sinistra_core::time::{Place, Ticks};

/// Between a chord and its next stroke the hand leaves the keys for this long.
const LIFT: Ticks = Ticks(Ticks::PER_BEAT / 16);

/// Plays the chords of a song: each is struck when it comes, and again on the
/// strong beats for as long as it holds. Every key lies at or above `split`;
/// `swing` is where the "and" falls in its beat.
pub fn right_hand(song: &Song, split: KeyNumber, swing: f32) -> Vec<HandNote> {
    let mut notes = Vec::new();
    let mut keys = Voicing::new();
    let song_key = song.key.unwrap_or(Key::C_MAJOR);
    for (index, written) in song.chords().iter().enumerate() {
        let Some(chord) = written.chord else { continue };
        let end = song.chords().get(index + 1).map_or(song.end(), |next| next.at);
        keys = close_to(&keys, chord, split);
        let strokes = strokes(song, written.at, end);
        for (n, &at) in strokes.iter().enumerate() {
            let next = strokes.get(n + 1).copied().unwrap_or(end);
            let until = Ticks((next - LIFT).0.max(at.0 + (next - at).0 / 2).max(at.0 + 1));
            let velocity = velocity(counted(song, at), at);
            notes.extend(keys.iter().map(|&key| HandNote {
                at,
                until,
                sounds: (swung(song, at, swing), swung(song, until, swing)),
                key,
                velocity,
                role: None,
                why: None,
                chord,
                song_key,
            }));
        }
    }
    notes
}

/// The chord's own start, then the strong beats before `end` that are not too
/// close to it.
fn strokes(song: &Song, start: Ticks, end: Ticks) -> Vec<Ticks> {
    let mut strokes = vec![start];
    let first = song.bars().partition_point(|bar| bar.at <= start).saturating_sub(1);
    let bars = song.bars().iter().skip(first).take_while(|bar| bar.at < end);
    for bar in bars.filter(|bar| bar.at + bar.metre.bar() > start) {
        let place = counted(song, bar.at);
        let pulse = place.metre.pulse();
        for beat in strong(place) {
            let at = place.bar + Ticks(pulse.0 * beat);
            if at >= bar.at && at >= start + pulse && at + Ticks(pulse.0 / 2) < end {
                strokes.push(at);
            }
        }
    }
    strokes
}

/// The felt beats of a bar that carry it: one and three of four, all of three,
/// one and four of five; every dotted beat of a compound metre. From 0.
/// Common practice.
fn strong(place: Place) -> Vec<i64> {
    let metre = place.metre;
    if metre.is_compound() {
        return (0..i64::from(metre.beats()) / 3).collect();
    }
    match metre.beats() {
        beats @ 1..=3 => (0..i64::from(beats)).collect(),
        5 => vec![0, 3],
        7 => vec![0, 2, 4],
        beats => (0..i64::from(beats)).step_by(2).collect(),
    }
}

/// The bar of `at` with a pick-up counted at the end of a whole bar.
fn counted(song: &Song, at: Ticks) -> Place {
    Place { bar: full_bar(song, at).0, ..song.place(at) }
}

/// The first beat is the loudest, the middle of the bar next, other beats
/// softer, what lies between them softer still. Figures by ear.
fn velocity(place: Place, at: Ticks) -> u8 {
    let offset = place.offset(at).0;
    let pulse = place.metre.pulse().0;
    let beats = place.metre.bar().0 / pulse;
    if offset == 0 {
        80
    } else if offset % pulse != 0 {
        68
    } else if beats % 2 == 0 && offset / pulse == beats / 2 {
        75
    } else {
        70
    }
}
