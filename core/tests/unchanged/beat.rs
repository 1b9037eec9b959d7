//! The beat of a player who hurries, drags, holds and rests.

use std::fmt::Write;

use sinistra_core::beat::{PlayerStroke, Tracker};
use sinistra_core::engine::Message;

use crate::checksum::Checksum;
use crate::song;

#[test]
fn the_beat_of_a_player_who_does_not_keep_it() {
    let mut told = String::new();
    for (number, hint, bar) in
        [("199", 100.0, 4), ("229", 70.0, 4), ("235", 140.0, 3), ("296", 90.0, 4), ("308", 60.0, 2)]
    {
        let strokes = played(number);
        let mut tracker = Tracker::new(strokes[0].at, 0.0, hint, bar);
        let chart = song::read(number, 0..0).chart;
        // Where the chart has a chord, more or less, for every second song.
        let expects = |beat: f64| {
            bar == 4 && chart.chords().iter().any(|chord| (chord.at.beats() - beat).abs() < 0.1)
        };
        let mut sum = Checksum::new();
        for (n, stroke) in strokes.iter().enumerate() {
            if number > "230" {
                let changed = stroke.at + (n * 31 % 13) as f64 / 40.0 - 0.1;
                tracker.pedal(changed, n % 2 == 0);
            }
            tracker.hear(*stroke, expects);
            let soon = tracker.beat(stroke.at + 0.3);
            let coasts = tracker.coasts(stroke.at + 3.0);
            let _ = write!(sum, "{:.4}{:.4}{coasts}", soon.beat, soon.tempo);
            if n % 40 == 39 {
                let _ = writeln!(
                    told,
                    "{number}: beat {:.2} at {:.1} a minute {}",
                    soon.beat,
                    soon.tempo,
                    sum.written()
                );
            }
        }
        tracker.shift(8.0);
        let _ = writeln!(
            told,
            "{number}: beat {:.2} at the end",
            tracker.beat(strokes[strokes.len() - 1].at).beat
        );
    }
    crate::unchanged("beat.txt", &told);
}

/// The right hand of a song with a tempo that swings by a third, a hold each 64 beats, and
/// strokes some milliseconds off.
fn played(number: &str) -> Vec<PlayerStroke> {
    let song = song::read(number, 0..0);
    let (mut strokes, mut seconds, mut beat) = (Vec::<PlayerStroke>::new(), 0.0, 0.0);
    for (n, (at, message)) in song.events.iter().enumerate() {
        let Message::On { key, .. } = message else { continue };
        let swing = ((at.beats() / 120.0).fract() * 2.0 - 1.0).abs() - 0.5;
        let tempo = song.tempo * (1.0 + swing * 2.0 / 3.0);
        let held = if (at.beats() / 64.0).floor() > f64::floor(beat / 64.0) { 1.2 } else { 0.0 };
        seconds += (at.beats() - beat) * 60.0 / tempo + held;
        let off = (n * 7919 % 41) as f64 / 1000.0 - 0.02;
        match strokes.last_mut().filter(|_| at.beats() <= beat) {
            Some(last) => *last = last.and(*key),
            None => strokes.push(PlayerStroke::of_key(seconds + off, *key)),
        }
        beat = at.beats();
    }
    strokes
}
