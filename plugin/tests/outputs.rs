//! The left hand's own output: the second note port of the CLAP.

#![allow(clippy::unwrap_used, clippy::panic)]

mod clap_host;

use std::collections::BTreeMap;

use clap_host::play::{BEAT, VELOCITY, chord, play};
use clap_host::{Clock, Host, In, Out};

#[test]
fn there_is_one_note_input_and_there_are_two_outputs() {
    let host = Host::load();
    let named = |ports: &[(u32, &str)]| -> Vec<(u32, String)> {
        ports.iter().map(|(id, name)| (*id, (*name).to_owned())).collect()
    };
    assert_eq!(host.note_ports(true), named(&[(0, "Right hand")]));
    assert_eq!(host.note_ports(false), named(&[(0, "Both hands"), (1, "Left hand")]));
}

/// What sounds at each output, by key; every end must be where its start was.
#[derive(Default)]
struct Sounding(BTreeMap<(i16, i16), i32>);

impl Sounding {
    fn take(&mut self, out: &[Out]) {
        for event in out {
            let (place, on) = match *event {
                Out::On { key, .. } => ((0, key), true),
                Out::Off { key, .. } => ((0, key), false),
                Out::Apart { on, key, .. } => ((1, key), on),
                _ => continue,
            };
            let count = self.0.entry(place).or_default();
            *count += if on { 1 } else { -1 };
            assert!((0..=1).contains(count), "{event:?}");
        }
    }

    fn now(&self) -> Vec<(i16, i16)> {
        self.0.iter().filter(|(_, count)| **count > 0).map(|(place, _)| *place).collect()
    }
}

#[test]
fn the_left_hand_has_an_output_of_its_own_if_that_is_asked_for() {
    let plain = play(&Host::started(), 0.0, 4 * BEAT, 64, &chord(3, &[64, 67, 72]));
    assert!(!plain.iter().any(|event| matches!(event, Out::Apart { .. })));
    let host = Host::started();
    host.set("Left hand's own output", 1.0);
    let out = play(&host, 0.0, 4 * BEAT, 64, &chord(3, &[64, 67, 72]));
    // The same notes at the same frames; the right hand's where they were.
    let apart = |event: &Out| match *event {
        Out::On { frame, channel, key, .. } if key < 60 => {
            Out::Apart { frame, on: true, channel, key }
        }
        Out::Off { frame, channel, key, .. } if key < 60 => {
            Out::Apart { frame, on: false, channel, key }
        }
        ref other => other.clone(),
    };
    assert_eq!(out, plain.iter().map(apart).collect::<Vec<_>>());
    let right = out.iter().filter(|event| matches!(event, Out::On { .. })).count();
    assert_eq!(right, 3);
    assert!(out.contains(&Out::On { frame: 3, channel: 0, key: 64, velocity: VELOCITY }));
}

#[test]
fn a_note_ends_at_the_output_where_it_began() {
    let mut host = Host::started();
    let id = host.param("Left hand's own output").id;
    let mut sounding = Sounding::default();
    sounding.take(&play(&host, 0.0, BEAT / 4, 64, &chord(0, &[64, 67, 72])));
    assert_eq!(sounding.now(), [(0, 48), (0, 64), (0, 67), (0, 72)]);
    for (beat, value) in [(0.25, 1.0), (1.25, 0.0), (2.25, 1.0)] {
        let set = In::Param { frame: 0, id, value };
        sounding.take(&host.block(64, Some(Clock::at(beat)), &[set]));
        let later = beat + 64.0 / f64::from(BEAT);
        sounding.take(&play(&host, later, BEAT - 64, 64, &[]));
    }
    assert_eq!(sounding.now(), [(0, 64), (0, 67), (0, 72), (1, 48)]);
    // The list is full when it should end: it is owed to the same output.
    host.refuse = true;
    host.block(64, Some(Clock::stopped(3.25)), &[In::Param { frame: 0, id, value: 0.0 }]);
    host.refuse = false;
    sounding.take(&host.block(64, Some(Clock::stopped(3.25)), &[]));
    assert_eq!(sounding.now(), [(0, 64), (0, 67), (0, 72)]);
}
