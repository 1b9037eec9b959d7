//! The CLAP in a host: what goes through, what the left hand adds, and when.

#![allow(clippy::unwrap_used, clippy::panic)] // failing tests panic

mod clap_host;

use clap_host::play::*;
use clap_host::{ClapHost, Clock, Event};

#[test]
fn everything_goes_through_untouched_and_in_place() {
    let host = ClapHost::started();
    host.set("Left hand", 0.0);
    let events = [
        Event::On { frame: 0, channel: 3, key: 64, velocity: VELOCITY },
        Event::Midi { frame: 1, bytes: [0xB3, 64, 127] },
        Event::Midi { frame: 1, bytes: [0xB3, 1, 33] },
        Event::Midi { frame: 2, bytes: [0xE3, 0x12, 0x34] },
        Event::Midi { frame: 3, bytes: [0xD3, 77, 0] },
        Event::Midi { frame: 4, bytes: [0xC3, 12, 0] },
        Event::SysEx { frame: 5, bytes: vec![0xF0, 0x7E, 0x7F, 0x09, 0x01, 0xF7] },
        Event::Off { frame: 63, channel: 3, key: 64, velocity: 0.25 },
    ];
    assert_eq!(host.block(64, Some(Clock::stopped(0.0)), &events), events);
}

#[test]
fn a_choke_is_a_choke_and_pressure_comes_out_as_it_came_in() {
    let host = ClapHost::started();
    host.set("Left hand", 0.0);
    let events = [
        Event::on(0, 72),
        Event::Midi { frame: 1, bytes: [0xA2, 72, 99] },
        Event::Pressure { frame: 2, channel: 2, key: 72, value: 0.25 },
        Event::Choke { frame: 3, channel: 0, key: 72 },
    ];
    assert_eq!(host.block(64, Some(Clock::stopped(0.0)), &events), events);
    // Nothing is owed.
    assert_eq!(host.block(64, Some(Clock::stopped(0.0)), &[]), []);
}

#[test]
fn every_controller_value_and_bend_goes_through_exactly() {
    let host = ClapHost::started();
    let mut messages = vec![];
    for value in 0..128 {
        messages.push([0xB0, value, 127 - value]);
        messages.push([0xD5, value, 0]);
        messages.push([0xE7, value, 127 - value]);
    }
    for batch in messages.chunks(50) {
        let events: Vec<_> =
            batch.iter().map(|bytes| Event::Midi { frame: 0, bytes: *bytes }).collect();
        assert_eq!(host.block(16, Some(Clock::stopped(0.0)), &events), events);
    }
}

#[test]
fn the_left_hand_plays_the_root_on_every_beat_to_the_sample() {
    for size in [1, 63, 64, 500, 8192] {
        let host = ClapHost::started();
        // The chord is struck half a beat before the bar and held.
        let out = play(&host, -0.5, 4 * BEAT, size, &chord(0, &[64, 67, 72]));
        // Together with the hand at first, then by the grid: beat −0.5 is
        // 12,000 frames before beat 0.
        assert_eq!(beats(&out), [0, 12_000, 36_000, 60_000, 84_000], "blocks of {size}");
        assert!(strokes(&out).iter().all(|(_, key)| key % 12 == 0), "C, whatever the inversion");
    }
}

#[test]
fn stopping_ends_every_note_of_the_left_hand() {
    let host = ClapHost::started();
    let mut out = play(&host, 0.0, BEAT / 2, 64, &chord(0, &[64, 67, 72]));
    assert!(!strokes(&out).is_empty());
    out.extend(host.block(64, Some(Clock::stopped(0.5)), &[]));
    assert_eq!(sounding(&out), [64, 67, 72]);
}

#[test]
fn a_loop_that_wraps_inside_a_block_plays_its_first_beat_to_the_sample() {
    let host = ClapHost::started();
    let looped = |beat| Clock { cycle: Some((4.0, 8.0)), ..Clock::at(beat) };
    let mut out = host.block(4800, Some(looped(7.5)), &chord(0, &[64, 67, 72]));
    out.extend(host.block(4800, Some(looped(7.7)), &[]));
    // Beat 7.9 to the end of the loop is 2,400 frames; the block goes on.
    let wrap = host.block(4800, Some(looped(7.9)), &[]);
    assert_eq!(beats(&wrap), [2400]);
    out.extend(wrap);
    out.extend(host.block(64, Some(Clock::stopped(4.1)), &[]));
    assert_eq!(sounding(&out), [64, 67, 72]);
}

#[test]
fn jumps_tempo_and_metre_changes_leave_no_note_behind() {
    let host = ClapHost::started();
    let mut out = play(&host, 0.0, BEAT, 64, &chord(0, &[64, 67, 72]));
    for (beat, tempo, metre) in [
        (32.0, 90.0, (3, 4)),
        (-3.25, 240.0, (6, 8)),
        (7.5, 20.0, (5, 4)),
        (1e6, 300.0, (7, 8)),
        (0.0, 120.0, (4, 4)),
    ] {
        let clock = Clock { tempo: Some(tempo), metre: Some(metre), bar: beat, ..Clock::at(beat) };
        out.extend(host.block(512, Some(clock), &[]));
        out.extend(host.block(
            8192,
            Some(Clock { beat: Some(beat + 512.0 * tempo / 60.0 / 48e3), ..clock }),
            &[],
        ));
    }
    out.extend(host.block(64, Some(Clock::stopped(0.0)), &[]));
    assert_eq!(sounding(&out), [64, 67, 72]);
}

#[test]
fn bypass_and_a_muted_left_hand_end_what_sounds() {
    for name in ["Bypass", "Left hand"] {
        let host = ClapHost::started();
        let mut out = play(&host, 0.0, BEAT / 4, 64, &chord(0, &[64, 67, 72]));
        assert_eq!(sounding(&out).len(), 4);
        let value = if name == "Bypass" { 1.0 } else { 0.0 };
        let id = host.param(name).id;
        let set = Event::Param { frame: 0, id, value };
        out.extend(host.block(64, Some(Clock::at(0.25)), &[set]));
        assert_eq!(sounding(&out), [64, 67, 72], "{name}");
        out.extend(play(&host, 0.3, 3 * BEAT, 256, &[]));
        assert_eq!(sounding(&out), [64, 67, 72], "{name} stays");
    }
}

#[test]
fn a_full_event_list_loses_no_release() {
    let mut host = ClapHost::started();
    let mut out = play(&host, 0.0, BEAT / 4, 64, &chord(0, &[64, 67, 72]));
    host.refuse = true;
    assert_eq!(host.block(64, Some(Clock::stopped(0.3)), &[Event::off(0, 72)]), []);
    host.refuse = false;
    out.extend(host.block(64, Some(Clock::stopped(0.3)), &[]));
    assert_eq!(sounding(&out), [64, 67]);
}

#[test]
fn a_reset_releases_what_sounds_and_forgets_what_is_held() {
    let host = ClapHost::started();
    let mut out = play(&host, 0.0, BEAT / 4, 64, &chord(0, &[64, 67, 72]));
    host.reset();
    host.reset();
    // It goes on for the bar that it would without the right hand, then rests.
    let later = play(&host, 0.25, 16 * BEAT, 512, &[]);
    assert!(strokes(&later).iter().all(|(frame, _)| *frame < 9 * BEAT));
    out.extend(later);
    assert_eq!(sounding(&out), [64, 67, 72]);
}

#[test]
fn a_stopped_and_restarted_plugin_owes_its_releases() {
    let mut host = ClapHost::started();
    let mut out = play(&host, 0.0, BEAT / 4, 64, &chord(0, &[64, 67, 72]));
    host.stop();
    host.start(44_100.0, 512);
    out.extend(host.block(64, Some(Clock::stopped(0.0)), &[]));
    assert_eq!(sounding(&out), [64, 67, 72]);
}

#[test]
fn a_host_without_a_clock_gets_ours_from_the_first_chord() {
    let host = ClapHost::started();
    assert_eq!(host.block(512, None, &[]), []);
    let out = play_by(&host, |_| None, 96_000, || 400, &chord(100, &[64, 67, 72]));
    // Beat 0 is where the chord was struck.
    assert_eq!(beats(&out), [100, 24_100, 48_100, 72_100]);
}

#[test]
fn a_host_that_moves_without_a_position_is_counted_for() {
    let host = ClapHost::started();
    let clock = Clock { beat: None, tempo: None, metre: None, bar: 0.0, ..Clock::at(0.0) };
    let out = play_by(&host, |_| Some(clock), 48_000, || 480, &chord(0, &[64, 67, 72]));
    assert_eq!(beats(&out), [0, 24_000]);
}

#[test]
fn stopped_it_auditions_if_that_is_asked_for() {
    let host = ClapHost::started();
    let stands = |host: &ClapHost| {
        let clock = |_| Some(Clock::stopped(3.3));
        play_by(host, clock, 96_000, || 480, &chord(100, &[64, 67, 72]))
    };
    // Not asked for: what is played goes through, and no more.
    assert!(beats(&stands(&host)).is_empty());
    let host = ClapHost::started();
    // Asked for: beat 1 is where the chord is struck, the host's tempo holds.
    host.set("Play while stopped", 1.0);
    let mut out = stands(&host);
    assert_eq!(beats(&out), [100, 24_100, 48_100, 72_100]);
    // The host starts: its own beats, from the next one on.
    let started = play(&host, 3.5, 48_000, 480, &[]);
    assert_eq!(beats(&started), [12_000, 36_000]);
    out.extend(started);
    // Put out again while the host stands still: silence.
    let id = host.param("Play while stopped").id;
    let set = Event::Param { frame: 0, id, value: 0.0 };
    out.extend(host.block(64, Some(Clock::stopped(5.5)), &[set]));
    assert_eq!(sounding(&out), [64, 67, 72]);
}

#[test]
fn the_left_hand_takes_a_channel_of_its_own_and_the_right_hand_can_be_muted() {
    let host = ClapHost::started();
    host.set("Left hand's channel", 5.0);
    host.set("Right hand through", 0.0);
    let out = play(&host, 0.0, BEAT, 64, &chord(0, &[64, 67, 72]));
    assert!(!out.is_empty());
    for event in out {
        let (Event::On { channel, key, .. } | Event::Off { channel, key, .. }) = event else {
            continue;
        };
        assert!(channel == 4 && key < 60, "{event:?}");
    }
}

#[test]
fn every_rate_and_block_size_is_taken() {
    for rate in [8_000.0, 44_100.0, 96_000.0, 384_000.0] {
        let mut host = ClapHost::load();
        host.flush("Pattern", 1.0);
        host.start(rate, 8192);
        let beat = rate / 2.0;
        let clock = |at| Some(Clock::at(-0.5 + f64::from(at) / beat));
        let mut size = 1;
        let sizes = || {
            size = size * 2 % 8191 + 1;
            size
        };
        let frames = (3.0 * beat) as u32;
        let out = play_by(&host, clock, frames, sizes, &chord(0, &[64, 67, 72]));
        let expected = [0.0, 0.5 * beat, 1.5 * beat].map(|frame| frame as u32);
        assert_eq!(beats(&out)[..3], expected, "at {rate} Hz");
    }
}

#[test]
fn a_chord_that_switches_the_audition_on_is_answered_once() {
    let host = ClapHost::started();
    let keys = [64, 67, 72];
    // Held and let go while nothing plays: the ear knows the chord already.
    host.block(480, Some(Clock::stopped(3.3)), &chord(0, &keys));
    host.block(480, Some(Clock::stopped(3.3)), &keys.map(|key| Event::off(0, key)));
    let id = host.param("Play while stopped").id;
    let mut events = vec![Event::Param { frame: 0, id, value: 1.0 }];
    events.extend(chord(100, &keys));
    let here = host.block(480, Some(Clock::stopped(3.3)), &events);
    let left = |event: &&Event| matches!(event, Event::On { key, .. } | Event::Off { key, .. } if *key < 60);
    let ours: Vec<_> = here.iter().filter(left).collect();
    assert_eq!(ours.len(), 1, "{ours:?}");
    assert_eq!(strokes(&here), [(100, 48)]);
}

#[test]
fn a_chord_held_before_the_start_has_its_bass_on_the_grid() {
    let host = ClapHost::started();
    host.block(480, Some(Clock::stopped(3.3)), &chord(0, &[64, 67, 72]));
    // From beat 3.3 to the bar line are 0.7 beats.
    let out = play(&host, 3.3, BEAT, 64, &[]);
    assert_eq!(beats(&out), [16_800]);
}
