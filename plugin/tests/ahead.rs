//! Look-ahead in a CLAP host: the latency that is reported is the delay, the
//! left hand is on the host's grid once the host has made up for it, and leads.

#![allow(clippy::unwrap_used, clippy::panic)] // failing tests panic

mod clap_host;
mod dice;

use clap_host::play::*;
use clap_host::{ClapHost, Clock, Event};
use dice::Dice;

/// The value of `Pattern` for passing notes before a change of chord.
const PASSING_NOTES: f64 = 3.0;

/// A host with that many beats of look-ahead, started anew as it asks.
fn looking(beats: f64) -> ClapHost {
    let mut host = ClapHost::started();
    host.set("Look-ahead", beats);
    assert!(host.restart_if_wanted(48_000.0), "the plugin asks for a restart");
    assert_eq!(host.notes.latency_changes.get(), 1, "and tells of the change in it");
    host
}

/// What comes out, moved to where the host will have it.
fn compensated(out: Vec<Event>, latency: u32) -> Vec<Event> {
    out.into_iter().map(|event| earlier(event, latency)).collect()
}

/// C for a bar, then A minor.
fn c_then_a_minor() -> Vec<Event> {
    let mut events = chord(0, &[64, 67, 72]);
    events.extend([64, 67, 72].map(|key| Event::off(4 * BEAT, key)));
    events.extend(chord(4 * BEAT, &[64, 69, 72]));
    events
}

/// Pitch classes of the left hand before frame `end`.
fn classes_before(out: &[Event], end: u32) -> Vec<i16> {
    strokes(out).iter().filter(|(frame, _)| *frame < end).map(|(_, key)| key % 12).collect()
}

#[test]
fn everything_comes_out_exactly_the_reported_latency_later() {
    let sysex = vec![0xF0, 0x7E, 0x7F, 0x09, 0x01, 0xF7];
    for (beats, size) in [(1.0, 1), (1.0, 63), (2.0, 512), (4.0, 8192)] {
        let host = looking(beats);
        host.set("Left hand", 0.0);
        let latency = host.latency();
        assert_eq!(f64::from(latency), beats * f64::from(BEAT));
        let events = [
            Event::On { frame: 0, channel: 3, key: 64, velocity: VELOCITY },
            Event::Midi { frame: 1, bytes: [0xB3, 64, 127] },
            Event::Midi { frame: 700, bytes: [0xE3, 0x12, 0x34] },
            Event::Midi { frame: 701, bytes: [0xD3, 77, 0] },
            Event::Midi { frame: 702, bytes: [0xC3, 12, 0] },
            Event::SysEx { frame: 5_000, bytes: sysex.clone() },
            Event::Off { frame: 9_999, channel: 3, key: 64, velocity: 0.25 },
        ];
        let out = play(&host, 0.0, latency + 12_000, size, &events);
        assert_eq!(compensated(out, latency), events, "{beats} beats in blocks of {size}");
    }
}

#[test]
fn after_compensation_the_left_hand_is_on_the_hosts_grid_and_leads() {
    for size in [64, 333, 8192] {
        let host = looking(2.0);
        host.set("Pattern", PASSING_NOTES);
        let latency = host.latency();
        let out = play(&host, 0.0, 6 * BEAT + latency, size, &c_then_a_minor());
        let out = compensated(out, latency);
        let played = strokes(&out);
        assert!(played.iter().all(|(frame, _)| frame % (BEAT / 2) == 0), "{played:?}");
        assert!(played.contains(&(0, 36)) || played.contains(&(0, 48)), "C with the chord");
        // B passes on the last "and", before a chord that nobody has played yet.
        let before: Vec<_> = played.iter().filter(|(frame, _)| *frame < 4 * BEAT).collect();
        assert_eq!(before.last().map(|(frame, key)| (*frame, key % 12)), Some((7 * BEAT / 2, 11)));
        let after = played.iter().find(|(frame, _)| *frame >= 4 * BEAT).unwrap();
        assert_eq!((after.0, after.1 % 12), (4 * BEAT, 9));
    }
    // Without look-ahead nobody can know.
    let host = ClapHost::started();
    host.set("Pattern", PASSING_NOTES);
    let out = play(&host, 0.0, 6 * BEAT, 64, &c_then_a_minor());
    assert!(!classes_before(&out, 4 * BEAT).contains(&11));
}

#[test]
fn a_host_that_tells_the_place_of_what_sounds_is_understood() {
    // Ardour 7: it stands at bar 3, starts a bar before, and hands over from there on
    // what lies at bar 3; with a chart each bar gets its own root.
    let chart = "key: C\nmetre: 4/4\n\n| C | Em | C | Em | C | Em |\n";
    for size in [64, 1024] {
        let mut host = looking(4.0);
        assert!(host.restore(&clap_host::state::with_chart(&host.save(), chart)));
        host.restart_if_wanted(48_000.0);
        host.set("Pattern", 1.0);
        host.block(size, Some(Clock::stopped(8.0)), &[]);
        let mut events = vec![];
        for bar in 0..3 {
            events.extend(chord(bar * 4 * BEAT, &[64, 67]));
            events.extend([64, 67].map(|key| Event::off((bar + 1) * 4 * BEAT, key)));
        }
        events.sort_by_key(|event| (*event.clone().frame(), matches!(event, Event::On { .. })));
        let out = play(&host, 4.0, 16 * BEAT, size, &events);
        // It sounds a bar later, which is bar 3 by the host's clock.
        let roots: Vec<_> = strokes(&out).iter().map(|(at, key)| (at / BEAT, key % 12)).collect();
        let bar = |n: u32, root| (4 * n..4 * n + 4).map(move |beat| (beat, root));
        let expected: Vec<_> = bar(1, 0).chain(bar(2, 4)).chain(bar(3, 0)).collect();
        assert_eq!(roots, expected, "blocks of {size}");
    }
}

#[test]
fn block_sizes_do_not_change_what_is_played_ahead() {
    let whole = |size| {
        let host = looking(1.0);
        host.set("Pattern", 10.0);
        play(&host, -1.0, 7 * BEAT, size, &c_then_a_minor())
    };
    let first = whole(64);
    assert!(strokes(&first).len() > 5);
    for size in [1, 100, 4096] {
        assert_eq!(whole(size), first, "blocks of {size}");
    }
}

#[test]
fn rendered_in_blocks_of_any_changing_size_it_plays_what_it_plays_live() {
    for beats in [0.0, 1.0, 4.0] {
        let with = |host: &ClapHost| {
            host.set("Pattern", 10.0);
            host.set("Look-ahead", beats);
        };
        let live = ClapHost::started();
        with(&live);
        let latency = live.latency();
        assert_eq!(f64::from(latency), beats * f64::from(BEAT));
        let length = 8 * BEAT + latency;
        let played = play(&live, -1.0, length, 64, &c_then_a_minor());
        assert!(strokes(&played).len() > 5);
        for seed in 1..=4 {
            let mut saved = ClapHost::load();
            assert!(saved.restore(&live.save()));
            saved.set_offline(true);
            saved.start(48_000.0, 8192);
            assert_eq!(saved.latency(), latency, "before the first block");
            // The framework asks once more for what `activate` has just told.
            saved.restart_if_wanted(48_000.0);
            let mut dice = Dice::new(seed);
            let sizes = || {
                assert_eq!(saved.latency(), latency);
                if dice.below(4) == 0 { dice.below(8192) + 1 } else { dice.below(200) + 1 }
            };
            let rendered = play_in(&saved, -1.0, length, sizes, &c_then_a_minor());
            assert_eq!(rendered, played, "{beats} beats, sizes from seed {seed}");
            assert!(!saved.restart_if_wanted(48_000.0), "hosts cannot start anew offline");
        }
    }
}

#[test]
fn it_knows_what_comes_after_the_end_of_a_loop() {
    let host = looking(1.0);
    host.set("Pattern", PASSING_NOTES);
    let latency = host.latency();
    // A loop of two bars from beat 0, played one and a half times: A minor,
    // then C, and A minor again at the start, as recorded.
    let (c, a_minor, length) = ([64, 67, 72], [64, 69, 72], 8 * BEAT);
    let mut events = chord(0, &a_minor);
    for (at, before, now) in [(4 * BEAT, a_minor, c), (length, c, a_minor)] {
        events.extend(before.map(|key| Event::off(at, key)));
        events.extend(chord(at, &now));
    }
    let clock = |at| {
        let beat = f64::from(at % length) / f64::from(BEAT);
        Some(Clock { cycle: Some((0.0, 8.0)), ..Clock::at(beat) })
    };
    let out = play_by(&host, clock, length + 2 * BEAT + latency, || 480, &events);
    let played = strokes(&compensated(out, latency));
    // C's last "and" is a B that leads down to the loop's first A.
    let last = played.iter().rfind(|(frame, _)| *frame < length).unwrap();
    assert_eq!((last.0, last.1 % 12), (15 * BEAT / 2, 11), "{played:?}");
    assert!(played.iter().any(|(frame, key)| *frame == length && key % 12 == 9), "{played:?}");
}

#[test]
fn a_stop_silences_both_hands_at_once() {
    let host = looking(1.0);
    let latency = host.latency();
    let mut events = chord(0, &[64, 67, 72]);
    // On its way when the host stops: the release, and another chord.
    events.push(Event::off(latency, 72));
    events.extend(chord(latency + 100, &[65, 69]));
    let mut out = play(&host, 0.0, latency + 4800, 480, &events);
    assert_eq!(sounding(&out).len(), 4);
    out.extend(host.block(64, Some(Clock::stopped(1.2)), &[]));
    assert_eq!(sounding(&out), [] as [i16; 0]);
    let releases = [64, 67, 65, 69].map(|key| Event::off(0, key));
    let mut later = host.block(64, Some(Clock::stopped(1.2)), &releases);
    for _ in 0..100 {
        later.extend(host.block(480, Some(Clock::stopped(1.2)), &[]));
    }
    assert_eq!(later, []);
}

#[test]
fn putting_it_on_and_out_while_playing_leaves_no_note_behind() {
    let mut host = ClapHost::started();
    host.set("Pattern", 10.0);
    let id = host.param("Look-ahead").id;
    let mut out = vec![];
    let mut down = false;
    for block in 0..8_000_u32 {
        let mut events = vec![];
        if block % 37 == 0 {
            down = !down;
            let keys = [60, 64, 67, 70].iter();
            events.extend(
                keys.map(|key| if down { Event::on(3, *key) } else { Event::off(3, *key) }),
            );
        }
        if block % 401 == 0 {
            let value = f64::from(block / 401 % 5);
            events.insert(0, Event::Param { frame: 0, id, value });
        }
        let beat = f64::from(block * 256) / f64::from(BEAT);
        let clock = Clock { tempo: Some(100.0 + f64::from(block % 50)), ..Clock::at(beat) };
        out.extend(host.block(256, Some(clock), &events));
        if block % 211 == 0 {
            host.restart_if_wanted(48_000.0);
        }
    }
    out.extend(host.block(
        64,
        Some(Clock::stopped(0.0)),
        &[Event::Param { frame: 0, id, value: 0.0 }],
    ));
    let up = [60, 64, 67, 70].map(|key| Event::off(0, key));
    out.extend(host.block(64, Some(Clock::stopped(0.0)), &up));
    assert!(strokes(&out).len() > 50);
    assert_eq!(sounding(&out), [] as [i16; 0]);
}

#[test]
fn the_latency_follows_the_tempo_of_a_host_that_stands_still_only() {
    let mut host = looking(1.0);
    let at = |tempo, playing| Clock { tempo: Some(tempo), playing, ..Clock::at(0.0) };
    for _ in 0..100 {
        host.block(512, Some(at(90.0, true)), &[]);
    }
    assert!(!host.restart_if_wanted(48_000.0), "not while it plays");
    assert_eq!(host.latency(), 24_000);
    for _ in 0..100 {
        host.block(512, Some(at(90.0, false)), &[]);
    }
    assert!(host.restart_if_wanted(48_000.0));
    assert_eq!(host.latency(), 32_000);
    for _ in 0..100 {
        host.block(512, Some(at(90.0, false)), &[]);
    }
    assert!(!host.restart_if_wanted(48_000.0), "once is enough");
    // Another rate is another number of frames, and the same time.
    host.stop();
    host.start(96_000.0, 8192);
    assert_eq!(host.latency(), 64_000);
    // A project that is loaded reports it before the first block.
    let mut other = ClapHost::load();
    assert!(other.restore(&host.save()));
    other.start(48_000.0, 512);
    assert_eq!(other.latency(), 32_000);
}

#[test]
fn a_host_without_a_clock_hears_the_first_chord_and_its_bass_together() {
    let host = looking(1.0);
    let latency = host.latency();
    let out = play_by(&host, |_| None, 96_000, || 400, &chord(100, &[64, 67, 72]));
    assert_eq!(beats(&compensated(out, latency)), [100, 24_100, 48_100]);
}

#[test]
fn a_bypassed_plugin_keeps_its_delay() {
    let host = looking(1.0);
    host.set("Bypass", 1.0);
    let out = play(&host, 0.0, 2 * BEAT, 64, &chord(10, &[64]));
    assert_eq!(out, [Event::On { frame: BEAT + 10, channel: 0, key: 64, velocity: VELOCITY }]);
}

#[test]
fn a_reset_lets_go_of_what_was_on_its_way() {
    let host = looking(1.0);
    let mut out = play(&host, 0.0, BEAT + 480, 480, &chord(0, &[64, 67, 72]));
    out.extend(play(&host, 1.02, 480, 480, &[Event::off(0, 64), Event::on(5, 65)]));
    host.reset();
    host.reset();
    out.extend(play(&host, 0.0, 480, 480, &[]));
    assert_eq!(sounding(&out), [67, 72]);
}
