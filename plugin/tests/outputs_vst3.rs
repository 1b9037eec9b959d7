//! The left hand's own output: the second event bus of the VST3.

// Hosts speak C, failing tests panic.
#![allow(clippy::unwrap_used, clippy::panic, unsafe_code)]

mod ledger;
mod vst3_host;

use ledger::NoteCounts;
use vst3_host::{Out, ParameterChange, Vst3Host, Vst3Time, on};

/// Frames of a beat at 120 to the minute and 48 kHz.
const BEAT: i32 = 24_000;

/// The setting, from a frame on.
fn apart(host: &Vst3Host, on: bool) -> ParameterChange {
    ParameterChange(host.param("Left hand's own output"), 0, on.into())
}

/// Plays on from a beat in blocks of 64 frames; the changes come with the first,
/// and with them a chord if it is the very first.
fn play(host: &Vst3Host, beat: f64, frames: i32, changes: Vec<ParameterChange>) -> Vec<Out> {
    let mut changes = Some(changes);
    let mut out = vec![];
    for start in (0..frames).step_by(64) {
        let size = 64.min(frames - start);
        let chord =
            if beat == 0.0 && start == 0 { vec![on(3, 64), on(3, 67), on(3, 72)] } else { vec![] };
        let time = Vst3Time::at(beat + f64::from(start) / f64::from(BEAT));
        let changes = changes.take().unwrap_or_default();
        out.extend(
            host.block_at(size, Some(time), chord, changes).into_iter().map(|o| later(o, start)),
        );
    }
    out
}

fn later(mut event: Out, by: i32) -> Out {
    let (Out::On(frame, ..) | Out::Off(frame, ..) | Out::Apart(frame, ..)) = &mut event else {
        panic!("no note: {event:?}")
    };
    *frame += by;
    event
}

/// What sounds once these notes are taken, as outputs and keys.
fn sounding(ledger: &mut NoteCounts, out: &[Out]) -> Vec<(u8, i16)> {
    ledger.take(out.iter().filter_map(Out::note));
    ledger.sounding().into_iter().map(|((output, _, key), _)| (output, key)).collect()
}

/// The same with the left hand's notes at the second output.
fn turned(out: &[Out]) -> Vec<Out> {
    let turn = |event: &Out| match *event {
        Out::On(frame, channel, key) if key < 60 => Out::Apart(frame, true, channel, key),
        Out::Off(frame, channel, key) if key < 60 => Out::Apart(frame, false, channel, key),
        ref other => other.clone(),
    };
    out.iter().map(turn).collect()
}

#[test]
fn the_left_hand_has_an_output_of_its_own_if_it_is_turned_on_and_asked_for() {
    let plain = play(&Vst3Host::started(), 0.0, 4 * BEAT, vec![]);
    let struck = |out: &Out| matches!(out, Out::On(_, 0, key) if *key < 60);
    assert!(plain.iter().filter(|out| struck(out)).count() >= 2, "{plain:?}");
    for (on, asked) in [(false, false), (true, false), (false, true), (true, true)] {
        let host = Vst3Host::started();
        if on {
            host.turn_second_output(true); // an older host knows of one only
        }
        let out = play(&host, 0.0, 4 * BEAT, vec![apart(&host, asked)]);
        let expected = if on && asked { turned(&plain) } else { plain.clone() };
        assert_eq!(out, expected, "turned on {on}, asked for {asked}");
    }
}

#[test]
fn a_note_ends_at_the_output_where_it_began() {
    let mut host = Vst3Host::started();
    host.turn_second_output(true);
    let mut ledger = NoteCounts::default();
    let mut hear = |out: &[Out]| sounding(&mut ledger, out);
    let right = [(0, 64), (0, 67), (0, 72)];
    let with = |left: (u8, i16)| {
        let mut all = right.to_vec();
        all.push(left);
        all.sort_unstable();
        all
    };
    assert_eq!(hear(&play(&host, 0.0, BEAT / 4, vec![])), with((0, 48)));
    // The player sets it, and unsets it, while a note sounds.
    for (beat, set) in [(0.25, true), (1.25, false), (2.25, true)] {
        hear(&play(&host, beat, BEAT, vec![apart(&host, set)]));
    }
    assert_eq!(hear(&[]), with((1, 48)));
    // The host turns the output off and on while one sounds.
    for (beat, on) in [(3.25, false), (4.25, true), (5.25, false)] {
        host.turn_second_output(on);
        hear(&play(&host, beat, BEAT, vec![]));
    }
    host.turn_second_output(true);
    hear(&play(&host, 6.25, BEAT, vec![]));
    let left = hear(&[]);
    assert!(left.iter().any(|(output, _)| *output == 1), "{left:?}");
    // The list is full when it should end: it is owed to the same output, also if
    // that is off by then.
    host.refuse = true;
    host.block_at(64, Some(Vst3Time::stopped(7.25)), vec![], vec![apart(&host, false)]);
    host.refuse = false;
    host.turn_second_output(false);
    let out = host.block_at(64, Some(Vst3Time::stopped(7.25)), vec![], vec![]);
    assert_eq!(hear(&out), right);
}

#[test]
fn two_plugins_know_nothing_of_each_other() {
    let plain = play(&Vst3Host::started(), 0.0, 4 * BEAT, vec![]);
    let (one, other) = (Vst3Host::started(), Vst3Host::started());
    one.turn_second_output(true);
    let (mut out, mut others) = (vec![], vec![]);
    for n in 0..8 {
        let beat = f64::from(n) / 2.0;
        let at = n * BEAT / 2;
        let half = |host: &Vst3Host| {
            let set = if n == 0 { vec![apart(host, true)] } else { vec![] };
            play(host, beat, BEAT / 2, set)
                .into_iter()
                .map(|event| later(event, at))
                .collect::<Vec<_>>()
        };
        out.extend(half(&one));
        others.extend(half(&other));
    }
    assert_eq!(out, turned(&plain));
    assert_eq!(others, plain);
    // One may go.
    drop(one);
    assert!(!play(&other, 4.0, BEAT, vec![]).is_empty());
}
