//! The rules of CLAP that a validator of the format looks at (clap 1.2 headers;
//! the list of rules after the public `clap-validator`, whose program is not
//! needed here): description, parameters, state, blocks of any content. The host
//! itself looks at every event that comes out.

#![allow(clippy::unwrap_used, clippy::panic)] // failing tests panic

mod clap_host;
mod dice;

use std::collections::BTreeSet;

use clap_host::play::chord;
use clap_host::state::framed;
use clap_host::{ClapHost, Clock, Event, Param};
use dice::Dice;

/// `params.h`.
const STEPPED: u32 = 1;
const BYPASS: u32 = 1 << 4;
const AUTOMATABLE: u32 = 1 << 5;
const MODULATABLE: u32 = 1 << 10;

#[test]
fn it_says_of_itself_what_a_host_must_know() {
    let host = ClapHost::load();
    let [scanned, own] = host.descriptions();
    assert_eq!(scanned, own);
    assert!(scanned.version.0 >= 1, "{scanned:?}");
    let named = [&scanned.id, &scanned.name, &scanned.vendor, &scanned.release];
    assert!(named.iter().all(|text| !text.is_empty()), "{scanned:?}");
    // One of the main kinds, each feature once (`plugin-features.h`).
    assert!(scanned.features.contains(&"note-effect".to_owned()));
    let once: BTreeSet<_> = scanned.features.iter().collect();
    assert_eq!(once.len(), scanned.features.len());
    assert!(!host.answers_to_nonsense());
}

#[test]
fn an_instance_may_go_before_it_was_ever_used() {
    let host = ClapHost::load();
    host.make_and_destroy();
    drop(ClapHost::load()); // initialised, never activated
    let mut started = ClapHost::load();
    for rate in [44_100.0, 48_000.0, 96_000.0] {
        started.start(rate, 64);
        started.stop();
    }
}

#[test]
fn parameters_are_described_consistently_and_start_at_their_defaults() {
    let host = ClapHost::load();
    for param in host.params() {
        let Param { name, module, min, max, default, flags, .. } = &param;
        assert!(!name.is_empty() && min < max && (min..=max).contains(&default), "{param:?}");
        assert!(!module.starts_with('/') && !module.ends_with('/') && !module.contains("//"));
        assert!(flags & STEPPED == 0 || (min.trunc(), max.trunc()) == (*min, *max), "{param:?}");
        assert!(flags & BYPASS == 0 || flags & STEPPED != 0, "{param:?}");
        // Whatever can be automated or modulated for a note can be as a whole.
        assert!(flags & AUTOMATABLE != 0 || flags >> 6 & 0xF == 0, "{param:?}");
        assert!(flags & MODULATABLE != 0 || flags >> 11 & 0xF == 0, "{param:?}");
        assert_eq!(host.value(param.id), *default, "{name}");
    }
    assert_eq!(host.params().iter().filter(|param| param.flags & BYPASS != 0).count(), 1);
}

#[test]
fn texts_and_values_agree_between_the_steps_too() {
    let host = ClapHost::load();
    for param in host.params() {
        for n in 0..=150 {
            let value = param.min + (param.max - param.min) * f64::from(n) / 150.0;
            let text = host.value_text(param.id, value);
            let read = host.text_value(param.id, &text).unwrap_or_else(|| panic!("{text}"));
            assert_eq!(host.value_text(param.id, read), text, "{} at {value}", param.name);
            assert_eq!(host.text_value(param.id, &text), Some(read), "{} {text}", param.name);
        }
    }
}

/// A value for every parameter.
fn anything(params: &[Param], dice: &mut Dice, bounds: bool) -> Vec<Event> {
    let event = |param: &Param| {
        let part = if bounds { dice.below(2).into() } else { dice.part() };
        let value = param.min + (param.max - param.min) * part;
        let whole = param.flags & STEPPED != 0;
        let value = if whole { value.round() } else { value };
        Event::Param { frame: 0, id: param.id, value }
    };
    params.iter().map(event).collect()
}

fn values(host: &ClapHost) -> Vec<f64> {
    host.params().iter().map(|param| host.value(param.id)).collect()
}

#[test]
fn flushed_outside_of_a_block_or_sent_in_one_is_the_same() {
    let flushed = ClapHost::load();
    let before = values(&flushed);
    let sent = anything(&flushed.params(), &mut Dice::new(3), false);
    flushed.flush_all(&sent);
    let processed = ClapHost::started();
    processed.block(512, Some(Clock::stopped(0.0)), &sent);
    assert_eq!(values(&flushed), values(&processed));
    assert_ne!(values(&flushed), before);
}

#[test]
fn what_belongs_to_another_event_space_sets_nothing() {
    let host = ClapHost::started();
    let before = values(&host);
    let foreign: Vec<_> = anything(&host.params(), &mut Dice::new(4), true)
        .into_iter()
        .map(|event| match event {
            Event::Param { frame, id, value } => Event::Foreign { frame, id, value },
            other => other,
        })
        .collect();
    host.block(512, Some(Clock::stopped(0.0)), &foreign);
    assert_eq!(values(&host), before);
    // Nor does a parameter that there is not.
    host.block(64, None, &[Event::Param { frame: 0, id: 1, value: 1.0 }]);
    assert_eq!(values(&host), before);
}

#[test]
fn the_same_state_is_saved_again_to_the_byte_in_pieces_of_any_size() {
    let host = ClapHost::load();
    let mut dice = Dice::new(5);
    for (out, back) in [(23, 17), (1, 1), (usize::MAX, usize::MAX), (7, 4096)] {
        host.flush_all(&anything(&host.params(), &mut dice, false));
        let saved = host.save_in_pieces(out);
        let other = ClapHost::load();
        let rescans = other.notes.rescans.get();
        assert!(other.restore_in_pieces(&saved, back));
        other.idle();
        assert_eq!(values(&other), values(&host));
        assert!(other.notes.rescans.get() > rescans, "the host must be told of new values");
        assert_eq!(other.save_in_pieces(out), saved);
    }
}

#[test]
fn an_empty_state_and_any_bytes_are_refused() {
    let host = ClapHost::load();
    let before = values(&host);
    assert!(!host.restore(&[]));
    let mut dice = Dice::new(6);
    for length in [1, 8, 9, 100, 1 << 20] {
        let bytes: Vec<u8> = (0..length).map(|_| dice.bits() as u8).collect();
        assert!(!host.restore_in_pieces(&bytes, usize::MAX), "{length} bytes");
    }
    // A length of its own and bytes behind it that are no state.
    for text in ["", "{}x", "null", "[]", "{\"params\":3}", "\"\u{0}\""] {
        assert!(!host.restore(&framed(text)), "{text}");
    }
    assert_eq!(values(&host), before);
}

/// Whatever a host may send: notes that nobody ended or began, wildcards,
/// messages of every kind, any status byte.
fn nonsense(dice: &mut Dice, frames: u32) -> Vec<Event> {
    let mut frame = 0;
    let mut events = vec![];
    while frame < frames && events.len() < 300 {
        let key = dice.below(129) as i16 - 1;
        let channel = dice.below(17) as i16 - 1;
        let byte = |dice: &mut Dice| dice.below(128) as u8;
        events.push(match dice.below(7) {
            0 | 1 => Event::On { frame, channel, key, velocity: dice.part() },
            2 => Event::Off { frame, channel, key, velocity: dice.part() },
            3 => Event::Choke { frame, channel, key },
            4 | 5 => {
                let status = 0x80 | dice.below(128) as u8;
                Event::Midi { frame, bytes: [status, byte(dice), byte(dice)] }
            }
            _ => Event::SysEx { frame, bytes: vec![0xF0, byte(dice), byte(dice), 0xF7] },
        });
        frame += dice.below(64);
    }
    events
}

#[test]
fn notes_that_make_no_sense_do_no_harm_at_any_rate_and_size() {
    let mut dice = Dice::new(8);
    let mut host = ClapHost::load();
    for rate in [
        1_234.567_8,
        8_000.0,
        12_345.678,
        22_050.0,
        44_100.0,
        45_678.901,
        48_000.0,
        123_456.78,
        384_000.0,
        768_000.0,
    ] {
        for size in [1, 10, 17, 256, 1536, 2027, 4096, 16_384] {
            host.start(rate, size);
            let mut beat = -1.0;
            for _ in 0..5 {
                host.block(size, Some(Clock::at(beat)), &nonsense(&mut dice, size));
                beat += f64::from(size) * 2.0 / rate;
            }
            host.stop();
        }
    }
}

#[test]
fn blocks_of_changing_size_resets_and_new_starts_do_no_harm() {
    let mut dice = Dice::new(9);
    let mut host = ClapHost::load();
    for turn in 0..20 {
        host.start(44_100.0, 2048);
        for _ in 0..20 {
            let frames = dice.below(2048) + 1;
            let clock = (turn % 3 > 0).then(|| Clock::at(f64::from(dice.below(32))));
            host.block(frames, clock, &nonsense(&mut dice, frames));
            if dice.below(4) == 0 {
                host.reset();
            }
        }
        host.stop();
    }
}

#[test]
fn any_values_of_all_parameters_are_played_with() {
    for bounds in [false, true] {
        let mut dice = Dice::new(10);
        let mut host = ClapHost::load();
        let params = host.params();
        for _ in 0..50 {
            host.start(44_100.0, 512);
            let mut events = anything(&params, &mut dice, bounds);
            for block in 0..5 {
                events.extend(nonsense(&mut dice, 512));
                host.block(512, Some(Clock::at(f64::from(block * 512) / 22_050.0)), &events);
                events.clear();
            }
            host.stop();
            host.idle();
        }
        let right = |value: &f64| value.is_finite();
        assert!(values(&host).iter().all(right));
    }
}

#[test]
fn values_and_modulation_at_any_frame_are_taken() {
    let mut dice = Dice::new(11);
    let host = ClapHost::started();
    let params = host.params();
    for every in [10, 100, 1000] {
        for block in 0..20 {
            let mut events = vec![];
            for frame in (0..1024).step_by(every) {
                let param = &params[dice.below(params.len() as u32) as usize];
                let (id, width) = (param.id, param.max - param.min);
                events.push(match dice.below(3) {
                    0 => Event::Mod { frame, id, amount: (dice.part() - 0.5) * width },
                    _ => Event::Param { frame, id, value: param.min + dice.part() * width },
                });
            }
            host.block(1024, Some(Clock::at(f64::from(block) * 0.05)), &events);
        }
    }
}

/// A clock that no music has.
fn any_clock(dice: &mut Dice) -> Clock {
    let maybe = |dice: &mut Dice, value: f64| (dice.below(3) > 0).then_some(value);
    let beat = f64::from(dice.below(100_000)) / 7.0 - 1_000.0;
    let start = f64::from(dice.below(64));
    let length = dice.part() * 8.0;
    let metre = (dice.below(20) as u16, [0, 1, 2, 3, 4, 8, 16, 64][dice.below(8) as usize]);
    let tempo = [0.0, 1e-9, 0.5, 20.0, 120.0, 999.0, 1e9][dice.below(7) as usize];
    Clock {
        playing: dice.below(4) > 0,
        beat: maybe(dice, beat),
        seconds: maybe(dice, beat / 2.0),
        tempo: maybe(dice, tempo),
        metre: (dice.below(3) > 0).then_some(metre),
        bar: beat + dice.part() * 16.0 - 8.0,
        cycle: (dice.below(2) > 0).then_some((start, start + length)),
    }
}

#[test]
fn any_clock_is_taken_at_the_start_of_a_block_and_within_it() {
    let mut dice = Dice::new(12);
    let mut host = ClapHost::load();
    // Each jump is thought through anew, which takes its time unoptimised.
    for (interval, blocks) in [(1000, 40), (100, 20), (1, 1)] {
        host.start(44_100.0, 128);
        for _ in 0..blocks {
            let mut events = nonsense(&mut dice, 128);
            events.extend(chord(0, &[64, 67, 72]));
            for frame in (0..128).step_by(interval) {
                events.push(Event::Transport { frame, clock: any_clock(&mut dice) });
            }
            events.sort_by_key(|event| *event.clone().frame());
            host.block(128, Some(any_clock(&mut dice)), &events);
            host.block(128, None, &[]);
        }
        host.stop();
    }
}

#[test]
fn two_instances_are_strangers() {
    let (one, other) = (ClapHost::started(), ClapHost::started());
    one.set("Sparing to busy", 90.0);
    let before = values(&other);
    assert_eq!(before, values(&ClapHost::started()));
    let out = one.block(64, Some(Clock::at(0.0)), &chord(0, &[64, 67, 72]));
    assert!(out.len() > 3);
    assert_eq!(other.block(64, Some(Clock::at(0.0)), &[]), []);
}
