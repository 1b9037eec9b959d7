//! The beat of a player who hurries, drags, holds and rests.

use std::fmt::Write;

use sinistra_core::beat::{PlayerStroke, Tracker};
use sinistra_core::chance::Chance;
use sinistra_core::engine::Message;
use sinistra_core::pitch::KeyNumber;

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

#[test]
fn the_beat_of_somebody_who_plays_at_chance() {
    let mut told = String::new();
    for seed in 0..24 {
        let mut chance = Chance::new(seed);
        let bar = [1, 2, 3, 4, 5, 7, 12, 4][seed as usize % 8];
        let mut beat = 60.0 / f64::from(40 + chance.below(160));
        let mut now = 0.5;
        let hint = [100.0, 60.0 / beat][usize::from(chance.below(2))];
        let mut tracker = Tracker::new(now, 0.0, hint, bar);
        let mut sum = Checksum::new();
        for _ in 0..100 {
            let beats = match chance.below(12) {
                0 => 0.25,
                1 | 2 => 0.5,
                3 => 1.0 / 3.0,
                4 => 2.0,
                5 => bar as f64,
                6 => 2.0 * bar as f64,
                7 => f64::from(chance.below(6)) + 0.75,
                _ => 1.0,
            };
            let hold = if chance.below(20) == 0 { f64::from(chance.below(50)) / 10.0 } else { 0.0 };
            now += beats * beat * (0.95 + 0.1 * f64::from(chance.part())) + hold;
            beat *= [1.0, 1.0, 1.03, 0.97, 1.0, 1.0, 1.0, 1.0, 1.0, 2.0, 0.5]
                [usize::from(chance.below(11))];
            beat = beat.clamp(0.2, 2.0);
            let key = |chance: &mut Chance| KeyNumber::clamped(i32::from(60 + chance.below(20)));
            let more = chance.below(4);
            let first = PlayerStroke::of_key(now, key(&mut chance));
            let stroke = (0..more).fold(first, |all, _| all.and(key(&mut chance)));
            let chart = chance.below(2) == 0;
            tracker.hear(stroke, |beat: f64| chart && (beat - beat.round()).abs() < 0.1);
            if chance.below(9) == 0 {
                tracker.pedal(now + 0.05, chance.below(2) == 0);
            }
            let soon = tracker.beat(now + 0.2);
            let _ = write!(sum, "{:.4}{:.4}{}", soon.beat, soon.tempo, tracker.coasts(now + 2.0));
            if chance.below(40) == 0 {
                tracker.shift(f64::from(chance.below(4)));
            }
        }
        let end = tracker.beat(now);
        let (beat, tempo, sum) = (end.beat, end.tempo, sum.written());
        let _ = writeln!(told, "{bar} in a bar: beat {beat:.2} at {tempo:.1} a minute {sum}");
    }
    crate::unchanged("beat-at-chance.txt", &told);
}
