//! Our own damper pedal: changed with the harmony, after the stroke, never through a
//! change of chord, and never left down, whatever stops.

#![allow(clippy::panic, reason = "a message that none may send")]

use sinistra_core::engine::{Block, Engine, Message, Output, Settings, Timed, Transport};
use sinistra_core::midi::SUSTAIN;
use sinistra_core::time::{Metre, Ticks};
use sinistra_score::{Chart, Performance, pattern_presets};
use sinistra_tests::crowd::Crowd;
use sinistra_tests::{RightHandTake, STUDIO, pattern};

/// Takes what the engine sends, refuses some of it, and watches the pedals.
#[derive(Default)]
struct PedalLog {
    refuses: Option<Crowd>,
    last: u32,
    /// Channels on which ours is down, a bit each.
    down: u16,
    pressed: usize,
}

impl Output for PedalLog {
    fn send(&mut self, event: Timed) -> bool {
        if self.refuses.as_mut().is_some_and(|dice| dice.below(4) == 0) {
            return false;
        }
        assert!(event.frame >= self.last, "{event:?} comes after frame {}", self.last);
        self.last = event.frame;
        if let Message::Control { channel, controller, value } = event.message {
            assert!(controller == SUSTAIN && [0, 127].contains(&value), "{event:?}");
            let (bit, down) = (1 << channel, value > 0);
            assert_ne!(self.down & bit != 0, down, "{event:?} moves nothing");
            self.down ^= bit;
            self.pressed += usize::from(down);
        }
        true
    }
}

/// What may end a song's sound.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Stop {
    Transport,
    Jump,
    Panic,
    Bypass,
    SwitchedOff,
    PedalOff,
    AllNotesOff,
}

const STOPS: [Stop; 7] = [
    Stop::Transport,
    Stop::Jump,
    Stop::Panic,
    Stop::Bypass,
    Stop::SwitchedOff,
    Stop::PedalOff,
    Stop::AllNotesOff,
];

const RATE: f64 = 48_000.0;
const FRAMES: u32 = 480;

fn with_pedal() -> Settings {
    Settings { pedal: true, ..Settings::default() }
}

fn block(beat: f64, playing: bool, events: &[Timed]) -> Block<'_> {
    let transport = Transport { playing, ..Transport::moving(beat, 120.0, Metre::COMMON) };
    Block { frames: FRAMES, rate: RATE, transport, events }
}

/// Plays random chords, then `stop` comes after so many blocks; the pedal as it is a
/// block later (what was refused is taken then).
fn stopped(slug: &str, seed: u64, after: u32, stop: Stop) -> PedalLog {
    let mut engine = Engine::new(with_pedal(), pattern(Some(slug)));
    let mut foot = PedalLog { refuses: Some(Crowd::new(seed + 1)), ..PedalLog::default() };
    let mut crowd = Crowd::new(seed);
    let step = f64::from(FRAMES) * 120.0 / (60.0 * RATE);
    let process = |engine: &mut Engine, foot: &mut PedalLog, beat, playing, events: &[Timed]| {
        foot.last = 0;
        engine.process(&block(beat, playing, events), foot);
    };
    for n in 0..after {
        process(&mut engine, &mut foot, f64::from(n) * step, true, &crowd.block(FRAMES));
        if n % 40 == 39 {
            let presets = pattern_presets();
            let other = presets[(seed + u64::from(n)) as usize % presets.len()].slug;
            drop(engine.swap_pattern(pattern(Some(other))));
        }
    }
    let panic = Message::Control { channel: 0, controller: 123, value: 0 };
    let events = match stop {
        Stop::AllNotesOff => vec![Timed { frame: 0, message: panic }],
        _ => vec![],
    };
    let now = match stop {
        Stop::Jump => 0.0,
        _ => f64::from(after) * step,
    };
    foot.last = 0;
    match stop {
        Stop::Panic => engine.silence(0, &mut foot),
        // As the plugin does it.
        Stop::Bypass => {
            engine.silence(0, &mut foot);
            engine.set(Settings { plays: false, ..with_pedal() });
        }
        Stop::SwitchedOff => engine.set(Settings { plays: false, ..with_pedal() }),
        Stop::PedalOff => engine.set(Settings { pedal: false, ..with_pedal() }),
        Stop::Transport | Stop::Jump | Stop::AllNotesOff => {}
    }
    process(&mut engine, &mut foot, now, stop != Stop::Transport, &events);
    foot.refuses = None;
    process(&mut engine, &mut foot, now + step, stop != Stop::Transport, &[]);
    foot
}

#[test]
fn no_pedal_stays_down_whatever_stops() {
    let mut pressed = 0;
    for stop in STOPS {
        for seed in 1..=12 {
            let slug = pattern_presets()[seed as usize * 3].slug;
            let foot = stopped(slug, seed, 120 + 37 * seed as u32, stop);
            // Where the song goes on, nothing was struck for long enough since.
            assert_eq!(foot.down, 0, "{stop:?}, {slug}, seed {seed}");
            pressed += foot.pressed;
        }
    }
    assert!(pressed > 200, "only {pressed} times down");
}

/// Am F C G, a bar each, struck on the beats, with a silence at the end.
fn four_chords() -> RightHandTake {
    let mut chords = vec![];
    for (bar, keys) in (0..).zip(["A4 C5 E5", "F4 A4 C5", "E4 G4 C5", "D4 G4 B4"].repeat(4)) {
        for beat in 0..4 {
            let at = f64::from(4 * bar + beat);
            chords.push((at, at + 0.9, keys));
        }
    }
    let mut take = RightHandTake::of_chords(Metre::COMMON, 100.0, &chords);
    take.end = Ticks(72 * Ticks::PER_BEAT);
    take
}

/// When the pedal goes down and comes up, in frames.
fn spans(take: &RightHandTake, settings: Settings, slug: &str) -> Vec<(i64, i64)> {
    let mut engine = Engine::new(settings, pattern(Some(slug)));
    let mut spans: Vec<(i64, i64)> = vec![];
    for (at, message) in take.rehearsed_by(&mut engine, STUDIO).pedal {
        let Message::Control { value, .. } = message else { panic!("{message:?}") };
        match spans.last_mut() {
            Some((_, up)) if value == 0 => *up = at,
            _ => spans.push((at, i64::MAX)),
        }
    }
    spans
}

#[test]
fn it_is_changed_with_each_chord_after_the_stroke_and_never_held_through_a_change() {
    let take = four_chords();
    let bar = take.timeline.frame(Ticks(4 * Ticks::PER_BEAT), STUDIO.rate);
    for slug in ["free-hand", "roots-on-the-beat", "broken-chord", "stride", "slow-ballad"] {
        let spans = spans(&take, with_pedal(), slug);
        assert!(spans.len() >= 14, "{slug}: {} changes", spans.len());
        for (down, up) in spans {
            let bar_of = |frame: i64| frame / bar;
            // The right hand's stroke needs 30 ms to be heard as one.
            let settled = (STUDIO.rate * 0.035) as i64;
            assert_eq!(bar_of(down), bar_of(up - settled), "{slug}: {down} to {up}");
            assert!(down % bar > settled, "{slug}: down with the stroke at {down}");
            assert!(up - down > settled, "{slug}: {down} to {up}");
        }
    }
}

#[test]
fn it_is_off_unless_it_is_wanted() {
    assert!(spans(&four_chords(), Settings::default(), "free-hand").is_empty());
}

#[test]
fn while_the_players_own_pedal_is_down_ours_leaves_it_alone() {
    let mut take = four_chords();
    let own = |at, value| {
        let message = Message::Control { channel: 0, controller: SUSTAIN, value };
        (Ticks(at * Ticks::PER_BEAT + 400), message)
    };
    take.events.extend([own(9, 127), own(30, 0)]);
    take.events.sort_by_key(|(at, _)| *at);
    let spans = spans(&take, with_pedal(), "stride");
    let frame = |beat: i64| take.timeline.frame(Ticks(beat * Ticks::PER_BEAT + 400), STUDIO.rate);
    let (from, to) = (frame(9), frame(30));
    let moves = spans.iter().flat_map(|(down, up)| [down, up]);
    let inside: Vec<_> = moves.filter(|at| (from + 1..to).contains(*at)).collect();
    assert!(inside.is_empty(), "{inside:?}");
    let held = spans.iter().find(|(down, up)| (*down..*up).contains(&from)).expect("ours was down");
    assert_eq!(held.1, to, "it comes up with theirs");
    assert!(spans.iter().any(|(down, _)| *down > to), "and goes on afterwards");
}

#[test]
fn a_chart_is_pedalled_within_its_chords_and_its_last_is_let_go_at_the_end() {
    let text = "title: Kerb\nkey: C\nmetre: 4/4\n\n| C | Am . F . | N.C. | G | C |\n";
    let song = Chart::read("kerb", text).expect("a chart").unfold();
    let played = Performance::of(song.clone(), 90.0, pattern(Some("free-hand")), with_pedal());
    let chord = |at: Ticks| song.chord_at(at).and_then(|index| song.chords()[index].chord);
    let mut down: Option<Ticks> = None;
    let mut spans = 0;
    for (at, message) in &played.pedal {
        let Message::Control { value, .. } = message else { panic!("{message:?}") };
        match (down, *value) {
            (None, 127) => down = Some(*at),
            (Some(from), 0) => {
                // To the tick before the change: at it, the pedal comes up.
                assert_eq!(chord(from), chord(*at + Ticks(-2)), "{from:?} to {at:?}");
                assert!(chord(from).is_some(), "{from:?}: silence is dry");
                (down, spans) = (None, spans + 1);
            }
            odd => panic!("{odd:?} at {at:?}"),
        }
    }
    assert_eq!(down, None, "the end");
    assert!(spans >= 5, "{spans}");
}
