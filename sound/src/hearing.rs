//! Listens to what is rendered, by numbers: level, onset, pitch, brightness.

use std::f32::consts::TAU;

use sinistra_core::engine::Message;
use sinistra_core::pitch::KeyNumber;

use super::{Cue, Instrument, Piano, Player, loudness};

const RATE: u32 = 48_000;

fn key(number: u8) -> KeyNumber {
    KeyNumber::new(number).expect("a key")
}

fn on(at_s: f64, number: u8, velocity: u8) -> Cue {
    Cue { at_s, message: Message::On { channel: 0, key: key(number), velocity } }
}

fn off(at_s: f64, number: u8) -> Cue {
    Cue { at_s, message: Message::off(0, key(number)) }
}

fn pedal(at_s: f64, controller: u8, value: u8) -> Cue {
    Cue { at_s, message: Message::Control { channel: 0, controller, value } }
}

/// Both sides of `seconds` of the piano, in uneven blocks, limiter and all.
fn sides(cues: &[Cue], seconds: f64) -> (Vec<f32>, Vec<f32>) {
    let frames = (seconds * f64::from(RATE)) as usize;
    let (mut left, mut right) = (vec![0.0; frames], vec![0.0; frames]);
    let mut player = Player::new(Box::new(Piano::new(RATE)), cues.to_vec());
    let (mut from, mut sizes) = (0, [64, 1, 480, 777].into_iter().cycle());
    while from < frames {
        let until = (from + sizes.next().unwrap_or(64)).min(frames);
        player.render(&mut left[from..until], &mut right[from..until]);
        from = until;
    }
    (left, right)
}

/// The middle of both sides.
fn heard(cues: &[Cue], seconds: f64) -> Vec<f32> {
    let (left, right) = sides(cues, seconds);
    left.iter().zip(right).map(|(left, right)| (left + right) / 2.0).collect()
}

fn peak(sound: &[f32]) -> f32 {
    sound.iter().fold(0.0, |peak, sample| peak.max(sample.abs()))
}

/// Root mean square between two times, in decibels of full scale.
fn level_db(sound: &[f32], from_s: f64, until_s: f64) -> f32 {
    let at = |s: f64| (s * f64::from(RATE)) as usize;
    let part = &sound[at(from_s)..at(until_s)];
    let mean = part.iter().map(|x| f64::from(x * x)).sum::<f64>() / part.len() as f64;
    20.0 * (mean.sqrt().max(1e-9) as f32).log10()
}

/// Strength of a frequency in `sound`, under a Hann window.
fn strength(sound: &[f32], hz: f32) -> f32 {
    let turn = f64::from(hz) / f64::from(RATE);
    let (mut re, mut im) = (0.0f64, 0.0f64);
    for (n, sample) in sound.iter().enumerate() {
        let window = 0.5 - 0.5 * (TAU * n as f32 / sound.len() as f32).cos();
        let phase = std::f64::consts::TAU * (turn * n as f64).fract();
        re += f64::from(sample * window) * phase.cos();
        im += f64::from(sample * window) * phase.sin();
    }
    (re * re + im * im).sqrt() as f32
}

/// How far from `hz` the nearest partial in `sound` lies, in cents.
fn cents_off(sound: &[f32], hz: f32) -> i32 {
    let at = |cents: i32| strength(sound, hz * (cents as f32 / 1200.0).exp2());
    (-60..=60).step_by(2).max_by(|&a, &b| at(a).total_cmp(&at(b))).expect("a strongest")
}

/// How many of the highest frequencies carry the sound: its spectral centroid
/// over the first fourteen partials of `hz`, as a multiple of `hz`.
fn brightness(sound: &[f32], hz: f32) -> f32 {
    let partials: Vec<f32> = (1..=14).map(|n| strength(sound, hz * n as f32)).collect();
    let weighted: f32 = partials.iter().zip(1..).map(|(s, n)| s * n as f32).sum();
    weighted / partials.iter().sum::<f32>()
}

/// The largest step from one sample to the next: a click is a large one.
fn steepest(sound: &[f32]) -> f32 {
    sound.windows(2).fold(0.0, |most, pair| most.max((pair[1] - pair[0]).abs()))
}

/// Against equal temperament at A4 = 440 Hz (ISO 16). A grand piano is tuned
/// stretched, low notes lower and high notes higher, by up to thirty cents at
/// the ends (as every handbook of piano tuning draws it; from memory).
#[test]
fn every_octave_is_in_tune() {
    for (number, partial, least, most) in [
        (28, 2, -24, -8), // E1; its fundamental is too weak to measure
        (36, 2, -16, 0),
        (43, 1, -12, 0),
        (50, 1, -8, 4),
        (57, 1, -6, 6),
        (60, 1, -6, 6),
        (64, 1, -6, 6),
        (69, 1, -6, 6),
        (74, 1, 0, 10),
        (79, 1, 0, 12),
        (88, 1, 0, 16),
    ] {
        let sound = heard(&[on(0.0, number, 80)], 0.9);
        let hz = loudness::frequency_hz(number) * partial as f32;
        let cents = cents_off(&sound[9_600..], hz);
        assert!((least..=most).contains(&cents), "key {number} is {cents} cents off");
    }
}

#[test]
fn a_note_sounds_when_it_is_due() {
    for number in [28, 45, 60, 84] {
        let sound = heard(&[on(0.5, number, 90)], 0.7);
        let due = (0.5 * f64::from(RATE)) as usize;
        assert_eq!(peak(&sound[..due]), 0.0, "key {number} sounds too early");
        let threshold = peak(&sound) * 0.1;
        let begun = sound.iter().position(|x| x.abs() > threshold).expect("a sound");
        let late_ms = (begun - due) as f32 * 1000.0 / RATE as f32;
        assert!(late_ms < 10.0, "key {number} sounds {late_ms} ms late");
    }
}

#[test]
fn a_harder_stroke_is_louder_and_brighter() {
    let strokes: Vec<(f32, f32)> = [15, 40, 64, 90, 127]
        .map(|velocity| {
            let sound = heard(&[on(0.0, 48, velocity)], 0.4);
            let level = level_db(&sound, 0.0, 0.4);
            (level, brightness(&sound, loudness::frequency_hz(48)))
        })
        .to_vec();
    for pair in strokes.windows(2) {
        assert!(pair[1].0 > pair[0].0 + 3.0, "levels {strokes:?}");
        assert!(pair[1].1 > pair[0].1 * 1.02, "brightness {strokes:?}");
    }
}

#[test]
fn a_key_let_go_falls_silent_and_does_not_click() {
    let held = heard(&[on(0.0, 48, 90)], 2.0);
    let short = heard(&[on(0.0, 48, 90), off(0.5, 48)], 2.0);
    assert!(level_db(&held, 1.0, 1.2) > -60.0);
    assert!(level_db(&short, 1.3, 1.5) < level_db(&held, 1.3, 1.5) - 30.0);
    let at = (0.499 * f64::from(RATE)) as usize;
    assert!(steepest(&short[at..at + 960]) <= steepest(&held[at..at + 960]) * 1.1);
}

#[test]
fn the_pedals_hold_what_they_should() {
    let plain = heard(&[on(0.0, 48, 90), off(0.3, 48)], 1.5);
    let sustained = heard(&[pedal(0.0, 64, 127), on(0.1, 48, 90), off(0.3, 48)], 1.5);
    assert!(level_db(&sustained, 1.3, 1.5) > level_db(&plain, 1.3, 1.5) + 20.0);
    let lifted =
        heard(&[pedal(0.0, 64, 127), on(0.1, 48, 90), off(0.3, 48), pedal(0.5, 64, 0)], 1.5);
    assert!(level_db(&lifted, 1.3, 1.5) < level_db(&sustained, 1.3, 1.5) - 20.0);
    // Sostenuto holds what was down, not what comes later.
    let held = heard(&[on(0.0, 48, 90), pedal(0.1, 66, 127), off(0.3, 48)], 1.5);
    assert!(level_db(&held, 1.3, 1.5) > level_db(&plain, 1.3, 1.5) + 20.0);
    let later = heard(&[pedal(0.0, 66, 127), on(0.1, 48, 90), off(0.3, 48)], 1.5);
    assert!(level_db(&later, 1.3, 1.5) < level_db(&held, 1.3, 1.5) - 20.0);
}

#[test]
fn all_sound_off_ends_everything_without_a_click() {
    let struck = [on(0.0, 48, 100), on(0.0, 64, 100), pedal(0.1, 64, 127)];
    let cut = heard(&[&struck[..], &[pedal(0.5, 120, 0)]].concat(), 1.0);
    let at = (0.5 * f64::from(RATE)) as usize;
    assert!(peak(&cut[at + 1_200..]) < 1e-4);
    assert!(steepest(&cut[at - 2..at + 1_200]) < steepest(&cut[..at]) * 1.1);
}

#[test]
fn ten_hard_strokes_do_not_clip() {
    let chord = [36, 43, 48, 52, 55, 60, 64, 67, 72, 76];
    let cues: Vec<Cue> = chord.iter().map(|&number| on(0.0, number, 127)).collect();
    let (left, right) = sides(&cues, 1.0);
    let highest = peak(&left).max(peak(&right));
    assert!((0.3..=0.981).contains(&highest), "peak {highest}");
    // Cut flat, many neighbours would lie on the ceiling together.
    for side in [&left, &right] {
        let flat = side.windows(3).filter(|w| w.iter().all(|x| x.abs() > highest * 0.999)).count();
        assert_eq!(flat, 0);
    }
}

#[test]
fn it_starts_quiet() {
    let cues: Vec<Cue> = (0..12).map(|n| on(f64::from(n) * 0.5, 60, 80)).collect();
    let mut player = Player::new(Box::new(Piano::new(RATE)), cues).starting_quiet();
    let frames = 6 * RATE as usize;
    let (mut left, mut right) = (vec![0.0; frames], vec![0.0; frames]);
    player.render(&mut left, &mut right);
    let (first, last) = (level_db(&left, 0.0, 0.4), level_db(&left, 5.0, 5.4));
    assert!(first < last - 8.0, "first {first} dB, last {last} dB");
    assert!(peak(&left[..RATE as usize / 2]) < 0.1);
}

#[test]
fn rendering_allocates_nothing() {
    let mut piano = Piano::new(RATE);
    let (mut left, mut right) = ([0.0; 64], [0.0; 64]);
    assert_no_alloc::assert_no_alloc(|| {
        for n in 0..2_000u32 {
            let number = key(24 + (n * 7 % 80) as u8);
            piano.note_on((n % 3) as u8, number, 1 + (n % 127) as u8);
            piano.control((n % 16) as u8, [64, 66, 67, 7, 11, 120, 121, 123][n as usize % 8], 127);
            if n % 3 == 0 {
                piano.note_off(0, number);
            }
            if n % 40 == 0 {
                piano.render(&mut left, &mut right);
            }
        }
    });
    assert!(peak(&left) > 0.0);
}

#[test]
fn other_sample_rates_sound_the_same_pitch() {
    for rate in [22_050, 44_100, 96_000] {
        let mut piano = Piano::new(rate);
        let mut sound = vec![0.0; rate as usize / 2];
        let mut other = sound.clone();
        piano.note_on(0, key(69), 80);
        piano.render(&mut sound, &mut other);
        let scale = RATE as f32 / rate as f32;
        let cents = cents_off(&sound, 440.0 * scale);
        assert!(cents.abs() <= 8, "{rate}: {cents} cents");
    }
}

#[test]
fn a_piano_that_starts_sounds_soon_and_in_the_end_as_one_that_waited() {
    let mut starting = Piano::starting(RATE);
    let chord = [48, 60, 64, 67].map(KeyNumber::clamped);
    let play = |piano: &mut Piano| {
        piano.control(0, 120, 0);
        let (mut left, mut right) = (vec![0.0; 9600], vec![0.0; 9600]);
        piano.render(&mut left, &mut right); // what was there leaves
        chord.iter().for_each(|key| piano.note_on(0, *key, 90));
        piano.render(&mut left, &mut right);
        left
    };
    let mut whole = Piano::new(RATE); // every note is decoded
    assert_no_alloc::assert_no_alloc(|| starting.render(&mut [0.0; 64], &mut [0.0; 64]));
    assert_eq!(play(&mut starting), play(&mut whole));
}
