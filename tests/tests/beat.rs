//! The beat of players made of numbers. Figures of many more, and of people:
//! `cargo run --release -p sinistra-tests --example beat_figures`.

use sinistra_core::beat::{PlayerStroke, Tracker};
use sinistra_core::pitch::{PitchClass, PitchSet};
use sinistra_tests::tempo;

/// A player at `tempo(beat)` who strikes a chord every `step` beats, each up to
/// `spread` ms early or late, and holds some beats for so many seconds more.
struct BeatPlayer<'a> {
    tempo: &'a dyn Fn(f64) -> f64,
    step: usize,
    beats: usize,
    spread: f64,
    holds: &'a [(usize, f64)],
}

impl BeatPlayer<'_> {
    fn followed(&self, hint: f64) -> (f64, u32) {
        let human = tempo::human(self.spread, 7);
        let truth = tempo::beats(self.tempo, self.beats, self.holds);
        tempo::followed(&truth, self.holds, self.step, hint, human)
    }
}

const STEADY: BeatPlayer<'_> =
    BeatPlayer { tempo: &|_| 100.0, step: 4, beats: 96, spread: 15.0, holds: &[] };

#[test]
fn a_chord_a_bar_at_any_tempo_is_followed_from_the_third_on() {
    for tempo in (50..=180).step_by(10).map(f64::from) {
        for step in [1, 2, 4] {
            for hint in [0.83, 1.0, 1.2] {
                let player = BeatPlayer { tempo: &|_| tempo, step, ..STEADY };
                let (good, lost) = player.followed(tempo * hint);
                let told = format!("{tempo} every {step}, hint {hint}: {good}, lost for {lost}");
                assert!(good >= 0.95 && lost <= 4, "{told}");
            }
        }
    }
}

#[test]
fn ballads_that_were_lost_are_followed() {
    // A hint of 100 at another tempo, a chord a bar.
    for tempo in [70.0, 76.0, 80.0, 132.0] {
        let (good, lost) = BeatPlayer { tempo: &|_| tempo, ..STEADY }.followed(100.0);
        assert!(good >= 0.95 && lost <= 4, "{tempo}: {good}, lost for {lost}");
    }
    // From 140 to 60 in 160 beats, and from 100 to 70 in 32, a chord every two.
    for (from, to, over, least) in [(140.0, 60.0, 160.0, 0.95), (100.0, 70.0, 32.0, 0.9)] {
        let tempo = |beat: f64| from + (to - from) * ((beat - 16.0) / over).clamp(0.0, 1.0);
        let player = BeatPlayer { tempo: &tempo, step: 2, beats: 220, spread: 5.0, holds: &[] };
        let (good, lost) = player.followed(from);
        assert!(good >= least && lost <= 4, "{from} to {to}: {good}, lost for {lost}");
    }
    // From 100 to 80 in 32 beats, a chord a bar.
    let tempo = |beat: f64| 100.0 - 20.0 * ((beat - 16.0) / 32.0).clamp(0.0, 1.0);
    let (good, lost) = BeatPlayer { tempo: &tempo, ..STEADY }.followed(100.0);
    assert!(good >= 0.85 && lost <= 4, "{good}, lost for {lost}");
}

#[test]
fn a_step_of_the_tempo_is_followed_within_two_chords() {
    for to in [80.0, 120.0, 130.0] {
        for step in [1, 2] {
            let tempo = |beat: f64| if beat < 32.0 { 100.0 } else { to };
            let player = BeatPlayer { tempo: &tempo, step, spread: 5.0, ..STEADY };
            let (_, lost) = player.followed(100.0);
            assert!(lost <= 2 * step as u32, "to {to} every {step}: lost for {lost} beats");
        }
    }
}

#[test]
fn after_a_fermata_the_beat_is_where_the_player_is() {
    let holds = [(31, 1.5), (63, 0.8)];
    let player = BeatPlayer { step: 1, spread: 5.0, holds: &holds, ..STEADY };
    let (good, lost) = player.followed(100.0);
    assert!(good > 0.9 && lost <= 4, "{good}, lost for {lost}");
}

#[test]
fn after_a_fermata_with_a_chord_a_bar_the_tempo_is_the_old_one() {
    let holds = [(31, 1.5), (63, 1.5)];
    let player = BeatPlayer { beats: 112, holds: &holds, ..STEADY };
    let (good, lost) = player.followed(100.0);
    assert!(good >= 0.85 && lost <= 5, "{good}, lost for {lost}");
}

#[test]
fn new_harmony_tells_the_beat_from_what_lies_between() {
    // Each third comes again half a beat later; the first is heard only then.
    let mut tracker = Tracker::new(0.5, 0.0, 60.0, 4);
    for half in 2..64u8 {
        let root = i32::from(half / 2) * 5;
        let classes = PitchSet::EMPTY.with(PitchClass::new(root)).with(PitchClass::new(root + 4));
        tracker.hear(PlayerStroke { at: f64::from(half) / 2.0, keys: 2, classes }, |_| false);
    }
    let off = tracker.beat(32.0).beat.rem_euclid(1.0);
    assert!(!(0.05..0.95).contains(&off), "off the beat by {off}");
}

#[test]
fn the_pedal_tells_the_beat_from_what_lies_between() {
    // Chords half a beat before each beat; the pedal is changed on it.
    let off = |pedals: bool| {
        let mut tracker = Tracker::new(0.5, 0.0, 60.0, 4);
        for beat in 1..32u8 {
            let beat = f64::from(beat);
            if pedals {
                tracker.pedal(beat - 0.05, false);
                tracker.pedal(beat + 0.15, true);
            }
            tracker.hear(PlayerStroke::of_keys(beat + 0.5, 3), |_| false);
        }
        tracker.beat(32.0).beat.rem_euclid(1.0)
    };
    assert!((off(false) - 0.5).abs() < 0.05, "without it {}", off(false));
    assert!(!(0.05..0.95).contains(&off(true)), "off the beat by {}", off(true));
}

#[test]
fn it_says_when_it_goes_on_by_itself() {
    let mut tracker = Tracker::new(0.0, 0.0, 120.0, 4);
    tracker.hear(PlayerStroke::of_keys(2.0, 3), |_| false);
    assert!(!tracker.coasts(4.5) && tracker.coasts(5.5));
    assert!((tracker.beat(10.0).beat - 20.0).abs() < 0.01);
    tracker.hear(PlayerStroke::of_keys(10.0, 3), |_| false);
    assert!(!tracker.coasts(10.5));
}

#[test]
fn a_chart_says_how_long_a_chord_lasts() {
    // Six beats at 105 or four at 70, when 90 was expected? A chord a bar is
    // written.
    let mut tracker = Tracker::new(0.0, 0.0, 90.0, 4);
    tracker.hear(PlayerStroke::of_keys(4.0 * 60.0 / 70.0, 3), |beat| beat.rem_euclid(4.0) == 0.0);
    assert!((tracker.beat(3.5).tempo - 70.0).abs() < 2.0, "{:?}", tracker.beat(3.5));
}
