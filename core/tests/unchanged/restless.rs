//! Somebody who touches everything that there is, at chance.

use std::fmt::Write;

use sinistra_core::chance::Chance;
use sinistra_core::engine::{KeyChoice, Message, Settings};
use sinistra_core::foresee::Song;
use sinistra_core::key::{Key, Mode};
use sinistra_core::pitch::{KeyNumber, PitchClass};
use sinistra_core::play::{Held, Part, Parts, Pattern, Wish, WrittenBars};
use sinistra_core::time::{Metre, Ticks};

use crate::checksum::Checksum;
use crate::scene::{Host, Scene};
use crate::song;
use crate::ways;

/// Songs of `tests/data`.
const SONGS: [&str; 5] = ["199", "229", "235", "296", "308"];

#[test]
fn everything_is_touched_at_chance() {
    for (seed, number) in (0..).zip(SONGS) {
        let mut scene = ways::scene(number, Settings::default(), ways::everything());
        scene.song.events = busy(scene.song.events, seed, 48, true);
        (scene.seed, scene.does) = (seed, touch);
        if seed % 2 == 1 {
            scene.engine.look_ahead(Ticks(Ticks::PER_BEAT));
        }
        let kept = format!("restless-{number}.txt");
        crate::unchanged(&kept, &scene.told());
    }
}

/// Gigs that show what few others do.
const GIGS: [u64; 22] =
    [0, 1, 6, 8, 10, 12, 16, 18, 19, 20, 23, 34, 51, 58, 59, 61, 67, 91, 102, 108, 148, 149];

#[test]
fn gigs_at_chance_are_as_they_were() {
    let mut told = String::new();
    for seed in GIGS {
        let gig = gig(seed).told();
        let mut sum = Checksum::new();
        sum.write_str(&gig).expect("room");
        let _ = writeln!(told, "{seed}: {} bars {}", gig.lines().count(), sum.written());
    }
    crate::unchanged("gigs.txt", &told);
}

/// A song from anywhere in any metre, with holes or without, to any left hand.
fn gig(seed: u64) -> Scene {
    let mut chance = Chance::new(seed);
    let pattern = match chance.below(6) {
        0..3 => ways::improvised(),
        3 => ways::everything(),
        4 => ways::style(),
        _ => written(&mut chance),
    };
    let loose = f32::from(chance.below(2)) * chance.part();
    let settings =
        Settings { seed: chance.next(), loose, pedal: chance.below(2) == 0, ..Settings::default() };
    let mut scene = ways::scene(SONGS[usize::from(chance.below(5))], settings, pattern);
    let from = Ticks(i64::from(chance.below(3)) * 32 * Ticks::PER_BEAT);
    scene.song.events.retain(|(at, _)| *at >= from);
    scene.song.events.iter_mut().for_each(|(at, _)| *at = *at - from);
    if chance.below(2) == 0 {
        full_of_holes(&mut scene.song.events, &mut chance);
    }
    scene.song.events = busy(scene.song.events, seed, 30, chance.below(2) == 0);
    (scene.seed, scene.does) = (seed, [touch, seldom][usize::from(chance.below(2))]);
    scene.late = i64::from(chance.below(2)) * i64::from(chance.below(60));
    let metres = [(4, 4), (4, 4), (4, 4), (3, 4), (6, 8), (2, 2), (5, 4), (12, 4), (1, 4), (7, 8)];
    let (beats, unit) = metres[usize::from(chance.below(10))];
    scene.metre = ways::metre(beats, unit);
    if chance.below(2) == 0 {
        drop(scene.engine.swap_song(Some(Box::new(chart(seed, &mut chance)))));
        scene.engine.follow_hand(chance.below(2) == 0);
    }
    if chance.below(4) == 0 {
        let half = Ticks(Ticks::PER_BEAT / 2);
        scene.engine.look_ahead(half * i64::from(1 + chance.below(3)));
    }
    scene.engine.watch(chance.below(2) == 0);
    scene
}

/// Nothing is struck for two to thirteen beats now and then: holds, and rests.
fn full_of_holes(events: &mut Vec<(Ticks, Message)>, chance: &mut Chance) {
    let (mut plays, mut until) = (true, Ticks::ZERO);
    events.retain(|(at, message)| {
        if *at >= until {
            plays = !plays || chance.below(3) > 0;
            let beats = 2 + chance.below(12) + if plays { 8 } else { 0 };
            until = *at + Ticks(i64::from(beats) * Ticks::PER_BEAT);
        }
        plays || !matches!(message, Message::On { .. })
    });
}

/// The hand beside it, for so many bars: rolled or not, with its left now
/// and then, with pedals, on several channels.
fn busy(events: Vec<(Ticks, Message)>, seed: u64, bars: i64, rolls: bool) -> Vec<(Ticks, Message)> {
    let mut chance = Chance::new(seed);
    let end = Ticks(4 * bars * Ticks::PER_BEAT);
    let mut busy = Vec::new();
    for (at, message) in events.into_iter().take_while(|(at, _)| *at < end) {
        let off = if chance.below(3) == 0 && rolls {
            Ticks(chance.below(90).into())
        } else {
            Ticks::ZERO
        };
        let channel = (at.0 / (32 * Ticks::PER_BEAT) % 2) as u8;
        busy.push((
            at + off,
            match message {
                Message::On { key, velocity, .. } => Message::On { channel, key, velocity },
                Message::Off { key, .. } if chance.below(2) == 0 => {
                    Message::On { channel, key, velocity: 0 }
                }
                Message::Off { key, velocity, .. } => Message::Off { channel, key, velocity },
                other => other,
            },
        ));
        if chance.below(24) == 0 {
            let value = 127 * chance.below(2) as u8;
            let controller = [64, 66, 67, 64, 123, 120, 11][usize::from(chance.below(7))];
            busy.push((at + off, Message::Control { channel, controller, value }));
        }
        if chance.below(200) == 0 {
            let key = KeyNumber::clamped(i32::from(36 + chance.below(20)));
            busy.push((at, Message::On { channel, key, velocity: 70 }));
            busy.push((at + Ticks(700), Message::off(channel, key)));
        }
    }
    Message::sort(&mut busy);
    busy
}

/// At every eighth beat or so.
fn seldom(beat: i64, host: &mut Host) {
    host.page.full = false;
    if Chance::new(host.seed << 16 | beat as u64).below(4) == 0 {
        touch(beat, host);
    }
}

/// At every second beat or so, one thing.
fn touch(beat: i64, host: &mut Host) {
    let mut chance = Chance::new(host.seed << 32 | beat as u64);
    let settings = *host.engine.settings();
    host.page.full = false;
    if chance.below(2) == 0 {
        return;
    }
    match chance.below(44) {
        0 => host.engine.watch(false),
        1 | 2 => host.engine.watch(true),
        3 => host.engine.follow_hand(chance.below(2) == 0),
        4 => drop(host.engine.swap_pattern(ways::improvised())),
        5 | 20 | 21 => drop(host.engine.swap_pattern(written(&mut chance))),
        6 => drop(host.engine.swap_pattern(ways::style())),
        7 => drop(host.engine.swap_song(None)),
        8 => drop(host.engine.swap_song(Some(Box::new(chart(host.seed, &mut chance))))),
        9 => host.engine.lead(Ticks(i64::from(chance.below(4)) * 480), Ticks::ZERO),
        10 if chance.below(4) == 0 => host.engine.forget(),
        11 => host.engine.silence(0, &mut host.page),
        12 => host.stands = u32::from(chance.below(40)),
        13 => host.beat += f64::from(chance.below(9)) - 2.0,
        14 => {
            host.metre = ways::metre(chance.below(6) as u8 + 2, [4, 8, 4][host.seed as usize % 3])
        }
        15 => host.tempo = f64::from(60 + chance.below(140)),
        16 => host.late = i64::from(chance.below(4000)) - 1000,
        17 => host.late = 0,
        18 => host.rounds = [0.0, 96.0, 480.0][usize::from(chance.below(3))],
        19 => host.page.full = true,
        _ => host.engine.set(set_otherwise(settings, &mut chance)),
    }
}

/// One of the settings.
fn set_otherwise(now: Settings, chance: &mut Chance) -> Settings {
    let key = KeyNumber::clamped(i32::from(chance.below(12)));
    match chance.below(24) {
        0 => Settings { split: KeyNumber::clamped(key.number() as i32 + 52), ..now },
        1 => Settings { split: KeyNumber::MIDDLE_C, ..now },
        2 => Settings { key: KeyChoice::Auto, ..now },
        3 => {
            let mode = if chance.below(2) == 0 { Mode::Major } else { Mode::Minor };
            let tonic = PitchClass::new(key.number().into());
            Settings { key: KeyChoice::Fixed(Key { tonic, mode }), ..now }
        }
        4 => Settings { plays: chance.below(3) > 0, ..now },
        5..=7 => Settings { plays: true, ..now },
        21 => Settings { pedal: !now.pedal, ..now },
        8 => Settings { busy: chance.below(101) as u8, ..now },
        9 => Settings { variety: chance.below(101) as u8, ..now },
        10 => Settings { swing: 0.5 + chance.part() / 4.0, ..now },
        11 => Settings { length: 0.1 + 0.9 * chance.part(), ..now },
        12 => Settings { loudness: 0.2 + 1.3 * chance.part(), ..now },
        13 => Settings { loose: chance.part(), ..now },
        14 => Settings { lowest: KeyNumber::clamped(key.number() as i32 + 24), ..now },
        15 => Settings { highest: KeyNumber::clamped(key.number() as i32 + 48), ..now },
        16 => Settings { reach: 7 + chance.below(9) as u8, ..now },
        17 => Settings { window_ms: [0.0, 20.0, 60.0, 120.0][usize::from(chance.below(4))], ..now },
        18 => Settings { certainty: chance.part(), ..now },
        19 => Settings { channel: [None, Some(0), Some(9)][usize::from(chance.below(3))], ..now },
        20 => Settings { hold_bars: chance.below(4) as u8, ..now },
        _ => Settings { seed: chance.next(), ..now },
    }
}

/// The chart of a song, with rests, its sections as they fall.
fn chart(seed: u64, chance: &mut Chance) -> Song {
    let chart = song::read(SONGS[seed as usize % 5], 0..0).chart;
    let bars = chart.bars().len();
    let mut chords: Vec<_> = chart.chords().iter().map(|chord| (chord.at, chord.chord)).collect();
    chords.iter_mut().filter(|_| chance.below(9) == 0).for_each(|(_, chord)| *chord = None);
    ways::in_sections(Song::in_common_time(chords, bars as i64).expect("a chart"))
}

/// A left hand that nobody would write.
fn written(chance: &mut Chance) -> Box<Pattern> {
    let (beats, unit) = [(4, 4), (3, 4), (6, 8), (5, 4), (2, 2)][usize::from(chance.below(5))];
    let metre = ways::metre(beats, unit);
    let several = chance.below(2) * 3;
    let hand = |library| {
        let bars = (0..=chance.below(3)).map(|_| bar(metre, chance)).collect();
        WrittenBars { library, metre, bars }
    };
    let hands: Vec<_> = (0..=several).map(hand).collect();
    let fill = [wish(chance)].into_iter().collect();
    let pattern = Pattern::new("At chance", "", &hands, &fill);
    let pattern = if several > 0 { pattern.drawing() } else { pattern };
    Box::new(pattern.rolling(chance.below(2) == 0).improvising(chance.below(5) == 0))
}

/// Sixteenths, of which some or many are struck.
fn bar(metre: Metre, chance: &mut Chance) -> Vec<(Ticks, Parts)> {
    let sixteenth = Ticks(Ticks::PER_BEAT / 4);
    let one_in = 2 + chance.below(4);
    let mut bar = Vec::new();
    for n in 0..metre.bar().0 / sixteenth.0 {
        let voices = [chance.below(one_in) == 0, chance.below(4 * one_in) == 0];
        let [bass, tenor] = voices.map(|strikes| strikes.then(|| part(chance)));
        if bass.is_some() || tenor.is_some() {
            bar.push((sixteenth * n, Parts { bass, tenor }));
        }
    }
    bar
}

/// None to three strokes of one to four tones.
fn part(chance: &mut Chance) -> Part {
    let tones = |chance: &mut Chance| match chance.below(4) {
        0 => [Wish::Root].into_iter().chain((0..=chance.below(3)).map(|_| wish(chance))).collect(),
        1 => (0..=chance.below(4)).map(|_| wish(chance)).collect(),
        _ => [wish(chance)].into_iter().collect(),
    };
    let strokes = (0..chance.below(4)).map(|_| tones(chance)).collect();
    let held = [Held::Usual, Held::Detached, Held::Joined, Held::For(Ticks(500)), Held::Change]
        [usize::from(chance.below(5))];
    Part { strokes, held, accent: chance.below(5) == 0, rolled: chance.below(5) == 0 }
}

fn wish(chance: &mut Chance) -> Wish {
    Wish::ALL[usize::from(chance.below(Wish::ALL.len() as u16))]
}
