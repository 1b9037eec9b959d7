//! The ways in which the songs are played to.

use sinistra_core::engine::{Engine, KeyChoice, Message, Settings};
use sinistra_core::foresee::Song;
use sinistra_core::key::Key;
use sinistra_core::pitch::KeyNumber;
use sinistra_core::play::{Held, Part, Parts, Pattern, Wish, WrittenBars};
use sinistra_core::time::{Metre, Ticks};

use crate::scene::{Host, Scene};
use crate::song;

/// Nobody touches anything.
fn nothing(_: i64, _: &mut Host) {}

pub fn improvised() -> Box<Pattern> {
    Box::new(Pattern::default_boxed().improvising(true))
}

/// Bars of a left hand that asks for all there is, in two voices.
fn all_wishes() -> Vec<Vec<(Ticks, Parts)>> {
    use Wish::*;
    let bars = [
        [
            &[Root][..],
            &[Fifth],
            &[OctaveUp],
            &[Third],
            &[Octaves],
            &[Seventh, Sixth],
            &[Walk],
            &[Lead, Root],
        ],
        [
            &[Root],
            &[Walk],
            &[Chord],
            &[Ninth, Fifth],
            &[OctaveDown],
            &[ThirdUp],
            &[FifthUp],
            &[Passing, Fifth],
        ],
        [
            &[Octaves],
            &[Twelfth],
            &[Tenth],
            &[AddedSixth],
            &[Root],
            &[AddedNinth],
            &[LeadThird, Third],
            &[LeadFifth, Walk],
        ],
    ];
    bars.map(bar).into()
}

/// The same, one bar after another.
pub fn everything() -> Box<Pattern> {
    written(&[WrittenBars { library: 0, metre: Metre::COMMON, bars: all_wishes() }])
}

/// The same, each bar a left hand of its own, from which the hand draws.
pub fn style() -> Box<Pattern> {
    let hands = (1..).zip(all_wishes());
    let hands =
        hands.map(|(library, bar)| WrittenBars { library, metre: Metre::COMMON, bars: vec![bar] });
    Box::new(written(&hands.collect::<Vec<_>>()).drawing())
}

fn written(bars: &[WrittenBars]) -> Box<Pattern> {
    Box::new(Pattern::new("Everything", "", bars, &[Wish::Root].into_iter().collect()))
}

/// A bar of quavers.
fn bar(wishes: [&[Wish]; 8]) -> Vec<(Ticks, Parts)> {
    let place = |(n, wishes): (i64, &[Wish])| {
        let part = Part::plain(&wishes.iter().copied().collect());
        let held = [Held::Usual, Held::Detached, Held::Change, Held::For(Ticks(700))];
        let part = Part { held: held[n as usize % 4], accent: n == 3, rolled: n == 5, ..part };
        let above = [Wish::Tenth, Wish::Third].into_iter().collect();
        let tenor = (n % 3 == 2).then(|| Part::plain(&above));
        (Ticks(n * Ticks::PER_BEAT / 2), Parts { bass: Some(part), tenor })
    };
    (0..).zip(wishes).map(place).collect()
}

pub fn metre(beats: u8, unit: u8) -> Metre {
    Metre::new(beats, unit).expect("a metre")
}

pub fn scene(number: &str, settings: Settings, pattern: Box<Pattern>) -> Scene {
    let engine = Engine::new(settings, pattern);
    let song = song::read(number, 0..0);
    Scene { song, engine, metre: Metre::COMMON, does: nothing, seed: 0, late: 0 }
}

/// Three sections of eight bars, again and again.
pub fn in_sections(chart: Song) -> Song {
    let begins = (0..chart.bars().len()).step_by(8).map(|bar| (bar, bar as u32 / 8 % 3));
    chart.in_sections(&begins.collect::<Vec<_>>())
}

#[test]
fn a_written_hand_without_a_chart() {
    crate::unchanged("written.txt", &scene("199", Settings::default(), everything()).told());
}

#[test]
fn an_improvised_hand_without_a_chart() {
    let settings = Settings { loose: 0.5, pedal: true, ..Settings::default() };
    let mut scene = scene("229", settings, improvised());
    // The player takes the pedal for some bars.
    let pedal = |n: i64, value| {
        let at = Ticks(n * Ticks::PER_BEAT);
        (at, Message::Control { channel: 0, controller: 64, value })
    };
    let bars = (64..128).step_by(4).flat_map(|n| [pedal(n, 127), pedal(n + 3, 0)]);
    scene.song.events.extend(bars);
    Message::sort(&mut scene.song.events);
    crate::unchanged("improvised.txt", &scene.told());
}

#[test]
fn an_improvised_hand_with_a_chart_in_sections() {
    let mut scene = scene("235", Settings::default(), improvised());
    let chart = &scene.song.chart;
    // Each eleventh chord is a rest of both hands.
    let chords = chart.chords().iter().enumerate();
    let chords = chords.map(|(n, chord)| (chord.at, chord.chord.filter(|_| n % 11 != 10)));
    let chart = Song::in_common_time(chords, chart.bars().len() as i64).expect("a chart");
    drop(scene.engine.swap_song(Some(Box::new(in_sections(chart)))));
    crate::unchanged("charted.txt", &scene.told());
}

#[test]
fn a_chart_that_follows_a_late_hand_at_tempos_that_change() {
    let mut scene = scene("296", Settings::default(), everything());
    drop(scene.engine.swap_song(Some(Box::new(scene.song.chart.clone()))));
    scene.engine.follow_hand(true);
    scene.does = |beat, host| {
        host.late = beat.rem_euclid(7) * 600 - 1200;
        host.tempo = 96.0 + 3.0 * beat.rem_euclid(13) as f64;
    };
    crate::unchanged("by-hand.txt", &scene.told());
}

#[test]
fn a_hand_that_draws_from_several() {
    for (kept, chart) in [("style.txt", false), ("style-charted.txt", true)] {
        let mut scene = scene("199", Settings { variety: 90, ..Settings::default() }, style());
        if chart {
            drop(scene.engine.swap_song(Some(Box::new(scene.song.chart.clone()))));
        }
        crate::unchanged(kept, &scene.told());
    }
}

#[test]
fn a_hand_that_is_always_late() {
    let mut scene = scene("235", Settings::default(), everything());
    scene.does = |_, host| host.late = 2600; // 59 ms
    crate::unchanged("late.txt", &scene.told());
}

#[test]
fn a_host_that_rounds_its_beats() {
    let mut scene = scene("308", Settings::default(), everything());
    scene.does = |beat, host| {
        host.rounds = 480.0;
        host.late = beat.rem_euclid(5) * 40;
    };
    crate::unchanged("rounded.txt", &scene.told());
}

#[test]
fn a_right_hand_heard_two_beats_ahead() {
    let mut scene = scene("308", Settings::default(), everything());
    scene.engine.look_ahead(Ticks(2 * Ticks::PER_BEAT));
    scene.does = |beat, host| {
        let beats = [(64, 1), (96, 0), (128, 2)].into_iter().find(|(at, _)| *at == beat);
        if let Some((_, beats)) = beats {
            host.engine.lead(Ticks(beats * Ticks::PER_BEAT), Ticks::ZERO);
        }
    };
    crate::unchanged("ahead.txt", &scene.told());
}

#[test]
fn metres_stops_and_jumps() {
    let settings = Settings { swing: 0.62, busy: 70, variety: 80, ..Settings::default() };
    let mut scene = scene("308", settings, improvised());
    scene.does = |beat, host| {
        let metres =
            [metre(3, 4), metre(6, 8), metre(5, 4), metre(7, 8), metre(12, 8), metre(2, 2)];
        host.metre = metres[(beat / 24).rem_euclid(6) as usize];
        if beat % 50 == 49 {
            host.beat += 7.0;
        }
        if beat % 40 == 39 {
            host.engine.silence(0, &mut host.page);
        }
        if beat == 120 {
            host.engine.forget();
        }
    };
    crate::unchanged("metres.txt", &scene.told());
}

#[test]
fn everything_that_can_be_set_is_set_otherwise() {
    let settings = Settings {
        busy: 90,
        variety: 20,
        swing: 0.66,
        length: 0.6,
        loudness: 1.2,
        loose: 1.0,
        pedal: true,
        lowest: KeyNumber::clamped(33),
        highest: KeyNumber::clamped(64),
        reach: 9,
        window_ms: 20.0,
        certainty: 0.3,
        key: KeyChoice::Fixed(Key::C_MAJOR),
        channel: Some(3),
        seed: 77,
        hold_bars: 3,
        ..Settings::default()
    };
    let mut scene = scene("229", settings, improvised());
    // The player's own left hand comes in for a while.
    scene.song = song::read("229", 100..130);
    scene.does = |beat, host| {
        let settings = *host.engine.settings();
        let plays = beat.rem_euclid(64) < 56;
        let busy = (beat.rem_euclid(20) * 5) as u8;
        host.engine.set(Settings { plays, busy, seed: 77 + beat as u64 / 16, ..settings });
        if beat % 48 == 47 {
            drop(host.engine.swap_pattern(if beat % 96 == 95 {
                improvised()
            } else {
                everything()
            }));
        }
    };
    crate::unchanged("settings.txt", &scene.told());
}
