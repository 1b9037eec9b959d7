//! The left hand's own output: the second note port of the CLAP.

#![allow(clippy::unwrap_used, clippy::panic)] // failing tests panic

mod clap_host;
mod ledger;

use clap_host::play::{BEAT, VELOCITY, chord, play};
use clap_host::{ClapHost, Clock, Event};
use ledger::NoteCounts;

#[test]
fn there_is_one_note_input_and_there_are_two_outputs() {
    let host = ClapHost::load();
    let named = |ports: &[(u32, &str)]| -> Vec<(u32, String)> {
        ports.iter().map(|(id, name)| (*id, (*name).to_owned())).collect()
    };
    assert_eq!(host.note_ports(true), named(&[(0, "Right hand")]));
    assert_eq!(host.note_ports(false), named(&[(0, "Both hands"), (1, "Left hand")]));
}

/// Takes the notes that came out; what sounds now, as outputs and keys.
fn sounding(ledger: &mut NoteCounts, out: &[Event]) -> Vec<(u8, i16)> {
    ledger.take(out.iter().filter_map(Event::note));
    ledger.sounding().into_iter().map(|((output, _, key), _)| (output, key)).collect()
}

#[test]
fn the_left_hand_has_an_output_of_its_own_if_that_is_asked_for() {
    let plain = play(&ClapHost::started(), 0.0, 4 * BEAT, 64, &chord(3, &[64, 67, 72]));
    assert!(!plain.iter().any(|event| matches!(event, Event::Apart { .. })));
    let host = ClapHost::started();
    host.set("Left hand's own output", 1.0);
    let out = play(&host, 0.0, 4 * BEAT, 64, &chord(3, &[64, 67, 72]));
    // The same notes at the same frames; the right hand's where they were.
    let apart = |event: &Event| match *event {
        Event::On { frame, channel, key, .. } if key < 60 => {
            Event::Apart { frame, on: true, channel, key }
        }
        Event::Off { frame, channel, key, .. } if key < 60 => {
            Event::Apart { frame, on: false, channel, key }
        }
        ref other => other.clone(),
    };
    assert_eq!(out, plain.iter().map(apart).collect::<Vec<_>>());
    let right = out.iter().filter(|event| matches!(event, Event::On { .. })).count();
    assert_eq!(right, 3);
    assert!(out.contains(&Event::On { frame: 3, channel: 0, key: 64, velocity: VELOCITY }));
}

#[test]
fn a_note_ends_at_the_output_where_it_began() {
    let mut host = ClapHost::started();
    let id = host.param("Left hand's own output").id;
    let mut ledger = NoteCounts::default();
    let mut hear = |out: &[Event]| sounding(&mut ledger, out);
    let out = play(&host, 0.0, BEAT / 4, 64, &chord(0, &[64, 67, 72]));
    assert_eq!(hear(&out), [(0, 48), (0, 64), (0, 67), (0, 72)]);
    for (beat, value) in [(0.25, 1.0), (1.25, 0.0), (2.25, 1.0)] {
        let set = Event::Param { frame: 0, id, value };
        hear(&host.block(64, Some(Clock::at(beat)), &[set]));
        let later = beat + 64.0 / f64::from(BEAT);
        hear(&play(&host, later, BEAT - 64, 64, &[]));
    }
    assert_eq!(hear(&[]), [(0, 64), (0, 67), (0, 72), (1, 48)]);
    // The list is full when it should end: it is owed to the same output.
    host.refuse = true;
    host.block(64, Some(Clock::stopped(3.25)), &[Event::Param { frame: 0, id, value: 0.0 }]);
    host.refuse = false;
    let out = host.block(64, Some(Clock::stopped(3.25)), &[]);
    assert_eq!(hear(&out), [(0, 64), (0, 67), (0, 72)]);
}
