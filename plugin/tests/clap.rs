//! The CLAP in a host: what goes through, what the left hand adds, and when.

#![allow(clippy::unwrap_used, clippy::panic)]

mod clap_host;

use clap_host::{Clock, Host, In, Out};

/// Frames of a beat at 120 to the minute and 48 kHz.
const BEAT: u32 = 24_000;

/// Plays from `beat` on in blocks of `size`, with events at frames from there.
fn play(host: &Host, beat: f64, frames: u32, size: u32, events: &[In]) -> Vec<Out> {
    let mut out = vec![];
    let mut start = 0;
    while start < frames {
        let size = size.min(frames - start);
        let here: Vec<In> = events.iter().filter_map(|event| shifted(event, start, size)).collect();
        let clock = Clock::at(beat + f64::from(start) / f64::from(BEAT));
        out.extend(host.block(size, Some(clock), &here).into_iter().map(|o| later(o, start)));
        start += size;
    }
    out
}

/// The event at its frame of a block, if it lies in it.
fn shifted(event: &In, start: u32, size: u32) -> Option<In> {
    let mut event = event.clone();
    let (In::On { frame, .. }
    | In::Off { frame, .. }
    | In::Choke { frame, .. }
    | In::Midi { frame, .. }
    | In::SysEx { frame, .. }
    | In::Param { frame, .. }
    | In::Transport { frame, .. }) = &mut event;
    let inside = (start..start + size).contains(frame);
    *frame = frame.wrapping_sub(start);
    inside.then_some(event)
}

fn later(mut event: Out, by: u32) -> Out {
    let (Out::On { frame, .. }
    | Out::Off { frame, .. }
    | Out::Choke { frame, .. }
    | Out::Midi { frame, .. }
    | Out::SysEx { frame, .. }
    | Out::Pressure { frame, .. }
    | Out::Param { frame, .. }) = &mut event;
    *frame += by;
    event
}

fn chord(frame: u32, keys: &[i16]) -> Vec<In> {
    keys.iter().map(|key| In::on(frame, *key)).collect()
}

/// The left hand's strokes: frame and key of note-ons below middle C.
fn strokes(out: &[Out]) -> Vec<(u32, i16)> {
    out.iter()
        .filter_map(|event| match event {
            Out::On { frame, key, .. } if *key < 60 => Some((*frame, *key)),
            _ => None,
        })
        .collect()
}

/// Keys that sound at the end.
fn sounding(out: &[Out]) -> Vec<i16> {
    let mut keys = vec![];
    for event in out {
        match event {
            Out::On { key, .. } => keys.push(*key),
            Out::Off { key, .. } => {
                let at = keys.iter().position(|k| k == key).expect("an off without an on");
                keys.remove(at);
            }
            _ => {}
        }
    }
    keys
}

#[test]
fn everything_goes_through_untouched_and_in_place() {
    let host = Host::started();
    host.set("Left hand", 0.0);
    let sysex = vec![0xF0, 0x7E, 0x7F, 0x09, 0x01, 0xF7];
    let events = [
        In::On { frame: 0, channel: 3, key: 64, velocity: 0.123_456 },
        In::Midi { frame: 1, bytes: [0xB3, 64, 127] },
        In::Midi { frame: 1, bytes: [0xB3, 1, 33] },
        In::Midi { frame: 2, bytes: [0xE3, 0x12, 0x34] },
        In::Midi { frame: 3, bytes: [0xD3, 77, 0] },
        In::Midi { frame: 4, bytes: [0xC3, 12, 0] },
        In::SysEx { frame: 5, bytes: sysex.clone() },
        In::Off { frame: 63, channel: 3, key: 64, velocity: 0.25 },
    ];
    let velocity = |value: f64| f64::from(value as f32);
    assert_eq!(
        host.block(64, Some(Clock::stopped(0.0)), &events),
        [
            Out::On { frame: 0, channel: 3, key: 64, velocity: velocity(0.123_456) },
            Out::Midi { frame: 1, bytes: [0xB3, 64, 127] },
            Out::Midi { frame: 1, bytes: [0xB3, 1, 33] },
            Out::Midi { frame: 2, bytes: [0xE3, 0x12, 0x34] },
            Out::Midi { frame: 3, bytes: [0xD3, 77, 0] },
            Out::Midi { frame: 4, bytes: [0xC3, 12, 0] },
            Out::SysEx { frame: 5, bytes: sysex },
            Out::Off { frame: 63, channel: 3, key: 64, velocity: 0.25 },
        ]
    );
}

#[test]
fn every_controller_value_and_bend_goes_through_exactly() {
    let host = Host::started();
    let mut messages = vec![];
    for value in 0..128 {
        messages.push([0xB0, value, 127 - value]);
        messages.push([0xD5, value, 0]);
        messages.push([0xE7, value, 127 - value]);
    }
    for batch in messages.chunks(50) {
        let events: Vec<_> =
            batch.iter().map(|bytes| In::Midi { frame: 0, bytes: *bytes }).collect();
        let expected: Vec<_> =
            batch.iter().map(|bytes| Out::Midi { frame: 0, bytes: *bytes }).collect();
        assert_eq!(host.block(16, Some(Clock::stopped(0.0)), &events), expected);
    }
}

#[test]
fn the_left_hand_plays_the_root_on_every_beat_to_the_sample() {
    for size in [1, 63, 64, 500, 8192] {
        let host = Host::started();
        // The chord is struck half a beat before the bar and held.
        let out = play(&host, -0.5, 4 * BEAT, size, &chord(0, &[64, 67, 72]));
        let frames: Vec<u32> = strokes(&out).iter().map(|(frame, _)| *frame).collect();
        // Together with the hand at first, then by the grid: beat −0.5 is
        // 12,000 frames before beat 0.
        assert_eq!(frames, [0, 12_000, 36_000, 60_000, 84_000], "blocks of {size}");
        assert!(strokes(&out).iter().all(|(_, key)| key % 12 == 0), "C, whatever the inversion");
    }
}

#[test]
fn stopping_ends_every_note_of_the_left_hand() {
    let host = Host::started();
    let mut out = play(&host, 0.0, BEAT / 2, 64, &chord(0, &[64, 67, 72]));
    assert!(!strokes(&out).is_empty());
    out.extend(host.block(64, Some(Clock::stopped(0.5)), &[]));
    assert_eq!(sounding(&out), [64, 67, 72]);
}
