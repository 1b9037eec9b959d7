use alloc::vec;
use alloc::vec::Vec;

use super::*;
use crate::belief::begin::Begin;
use crate::pitch::{KeyNumber, PitchClass};
use crate::time::Metre;

/// Nobody listens.
struct Silence;

impl Output for Silence {
    fn send(&mut self, _: Timed) -> bool {
        true
    }
}

fn on(frame: u32, key: i32) -> Timed {
    let key = KeyNumber::clamped(key);
    Timed { frame, message: Message::On { channel: 0, key, velocity: 80 } }
}

fn off(frame: u32, key: i32) -> Timed {
    let key = KeyNumber::clamped(key);
    Timed { frame, message: Message::Off { channel: 0, key, velocity: 64 } }
}

/// Quarter notes in a [`block`].
const BEATS: f64 = 64.0 / 24_000.0;

fn engine() -> Engine {
    Engine::new(Settings::default(), Pattern::default_boxed())
}

fn block(beat: f64, events: &[Timed]) -> Block<'_> {
    let transport = Transport::moving(beat, 120.0, Metre::COMMON);
    Block { frames: 64, rate: 48_000.0, transport, events }
}

/// The same while time stands still.
fn stopped(beat: f64, events: &[Timed]) -> Block<'_> {
    let block = block(beat, events);
    Block { transport: Transport { playing: false, ..block.transport }, ..block }
}

#[test]
fn after_a_jump_nothing_is_due_that_lies_before_it() {
    let mut engine = engine();
    engine.process(&block(0.0, &[60, 64, 67].map(|key| on(0, key))), &mut Silence);
    // The stroke has not settled, and what follows it is being thought about.
    assert!(engine.next_due().is_some_and(|(at, _)| at < Ticks(960)));
    for beat in [100.0, 10_000.0, 4.0] {
        engine.clock.begin(&block(beat, &[]));
        engine.land(&mut Silence);
        let (at, due) = engine.next_due().expect("a slot");
        assert!(at >= engine.clock.at(0), "{due:?} at {at:?} after a jump to {beat}");
    }
}

#[test]
fn a_block_in_which_keys_follow_each_other_has_one_hearing() {
    let mut engine = engine();
    // The slot of the first beat was heard with the first key.
    engine.process(&block(0.0, &[on(0, 60), on(20, 64), on(50, 67)]), &mut Silence);
    let heard = |engine: &Engine| engine.memory.listener.heard;
    assert_eq!(heard(&engine), Some(Ticks(0)));
    let then = engine.agenda.struck.expect("the others are put off");
    engine.process(&block(BEATS, &[on(5, 71)]), &mut Silence);
    assert_eq!((heard(&engine), engine.agenda.struck), (Some(then), None));
    assert_eq!(engine.memory.listener.ear().struck_together(then), 4);
}

#[test]
fn a_block_in_which_a_stroke_settles_behind_a_slot_has_one_hearing() {
    let mut engine = engine();
    let mut ends = Vec::new();
    for n in 0..378 {
        // Struck again, the chord settles half a millisecond after the second beat.
        let struck = [60, 64, 67].map(|key| on(if n == 0 { 0 } else { 60 }, key));
        let events = if matches!(n, 0 | 352) { &struck[..] } else { &[] };
        engine.process(&block(f64::from(n) * BEATS, events), &mut Silence);
        ends.push((engine.memory.listener.heard, engine.memory.listener.ear().due()));
    }
    let slot = Some(Ticks(960));
    let due = ends[375].1.expect("it settles after the slot");
    assert_eq!(ends[375], (slot, Some(due)));
    assert!((961..=962).contains(&due.0), "{due:?}");
    assert_eq!(ends[376].1, None, "and a block later");
    assert!(ends[376].0 > Some(due));
}

#[test]
fn what_is_let_go_between_a_stroke_and_a_slot_is_not_heard_for_itself() {
    let mut engine = engine();
    for n in 0..376 {
        // The second beat is the first frame of the last block.
        let events = match n {
            0 => vec![on(0, 60), on(0, 64), on(0, 67)],
            374 => vec![on(44, 72), off(54, 60)],
            _ => vec![],
        };
        engine.process(&block(f64::from(n) * BEATS, &events), &mut Silence);
    }
    assert_eq!(engine.memory.listener.heard, Some(Ticks(959)));
    assert_eq!(engine.agenda.slot.map(|slot| slot.at), Some(Ticks(1920)));
}

#[test]
fn where_the_host_moves_its_bar_line_the_next_slot_is_looked_up_anew() {
    let mut engine = engine();
    let chord = [60, 64, 67].map(|key| on(0, key));
    for n in 0..=2100 {
        let beat = f64::from(n) * BEATS;
        let mut block = block(beat, if n == 0 { &chord } else { &[] });
        if n == 2100 {
            assert_eq!(engine.agenda.slot.map(|slot| slot.at), Some(Ticks(6 * 960)));
            block.transport.bar = beat; // 5.6
        }
        engine.process(&block, &mut Silence);
    }
    assert_eq!(engine.agenda.slot.map(|slot| slot.at), Some(Ticks(6336)));
}

#[test]
fn a_hand_that_improvises_begins_with_what_is_likely_for_its_bass() {
    let bass = |class: i32| {
        let pattern = Pattern::default_boxed().improvising(true);
        let mut engine = Engine::new(Settings::default(), Box::new(pattern));
        engine.process(&block(0.0, &[]), &mut Silence);
        let slot = engine.agenda.slot.expect("a slot of the first bar");
        engine.process(&block(BEATS, &[60, 64, 67].map(|key| on(0, key))), &mut Silence);
        let belief = engine.believe(slot.at, &mut Silence);
        let chord = belief.hearing.chord.expect("C major");
        let begin = Begin { chord, class: PitchClass::new(class) };
        let stroke = engine.hands.stroke(slot, begin, true, &belief, &engine.program);
        stroke.iter().map(|note| note.key).min().expect("a stroke").class()
    };
    for class in [0, 4, 7] {
        assert_eq!(bass(class), PitchClass::new(class));
    }
}

/// Takes all, but no pedal that comes up while it `refuses`.
struct StuckPedal {
    refuses: bool,
}

impl Output for StuckPedal {
    fn send(&mut self, event: Timed) -> bool {
        !(self.refuses && matches!(event.message, Message::Control { value: 0, .. }))
    }
}

#[test]
fn while_its_pedal_is_down_it_is_busy() {
    let settings = Settings { pedal: true, ..Settings::default() };
    let mut engine = Engine::new(settings, Pattern::default_boxed());
    let mut out = StuckPedal { refuses: true };
    let chord = [60, 64, 67].map(|key| on(0, key));
    for n in 0..300 {
        engine.process(&block(f64::from(n) * BEATS, if n == 0 { &chord } else { &[] }), &mut out);
    }
    let ends = [60, 64, 67].map(|key| off(0, key));
    let beat = 300.0 * BEATS;
    engine.process(&stopped(beat, &ends), &mut out);
    engine.process(&stopped(beat, &[]), &mut out);
    assert!(engine.is_busy());
    out.refuses = false;
    engine.process(&stopped(beat, &[]), &mut out);
    assert!(!engine.is_busy());
}

/// Takes what begins, and the ends only while it has room.
struct Narrow {
    room: bool,
    begun: Vec<KeyNumber>,
}

impl Output for Narrow {
    fn send(&mut self, event: Timed) -> bool {
        match event.message {
            Message::On { key, .. } => {
                self.begun.push(key);
                true
            }
            _ => self.room,
        }
    }
}

#[test]
fn a_note_whose_end_is_owed_keeps_it_busy_and_its_key_is_not_struck_again() {
    let (mut engine, mut out) = (engine(), Narrow { room: false, begun: Vec::new() });
    let chord = [60, 64, 67].map(|key| on(0, key));
    // Roots on the beat: each would strike the key of the one before.
    for n in 0..1200 {
        engine.process(&block(f64::from(n) * BEATS, if n == 0 { &chord } else { &[] }), &mut out);
    }
    assert_eq!(out.begun.len(), 1, "{:?}", out.begun);
    let let_go = [60, 64, 67].map(|key| off(0, key));
    engine.process(&stopped(3.2, &let_go), &mut out);
    assert!(engine.is_busy(), "the end is owed");
    out.room = true;
    engine.process(&stopped(3.2, &[]), &mut out);
    assert!(!engine.is_busy());
    engine.process(&stopped(3.2, &[on(0, 60)]), &mut out);
    assert!(engine.is_busy(), "the right hand holds a key");
}

#[test]
fn bars_of_one_metre_begin_at_their_lines() {
    let waltz = Metre::new(3, 4).expect("a metre");
    for (beat, metre, bar) in [
        (9.5, Metre::COMMON, 8.0),
        (8.0, Metre::COMMON, 8.0),
        (-0.5, Metre::COMMON, -4.0),
        (7.0, waltz, 6.0),
        (2.99, waltz, 0.0),
    ] {
        assert_eq!(Transport::moving(beat, 120.0, metre).bar, bar, "{beat}");
    }
}
