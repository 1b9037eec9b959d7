//! Ten thousand things that a host may do, in a random order from a fixed
//! seed: at the end every note of the left hand has ended.

#![allow(clippy::unwrap_used, clippy::panic)]

mod clap_host;
mod dice;
mod ledger;

use clap_host::{Clock, Host, In, Out};
use dice::Dice;
use ledger::Ledger;

/// Whether the plugin struck a key that the host did not strike in this block.
fn struck_by_itself(event: &Out, events: &[In]) -> bool {
    let Some((true, (_, _, key))) = event.note() else { return false };
    !events.iter().any(|event| matches!(event, In::On { key: k, .. } if *k == key))
}

#[test]
fn ten_thousand_actions_leave_no_note_behind() {
    let mut dice = Dice(7);
    let mut host = Host::started();
    let mut params = host.params();
    params.retain(|param| param.name != "Edits");
    let apart = params.iter_mut().find(|param| param.name == "Left hand's own output").unwrap();
    apart.default = 1.0; // here it is mostly on
    let ahead = host.param("Look-ahead").id;
    let mut ledger = Ledger::default();
    let mut down: Vec<i16> = vec![];
    let (mut beat, mut playing) = (0.0, false);
    let (mut rate, mut tempo, mut metre) = (48_000.0, 120.0, (4, 4));
    let (mut saved, mut answers, mut apart) = (host.save(), 0, 0);
    for _ in 0..10_000 {
        match dice.below(160) {
            0 => playing = !playing,
            1 => beat = f64::from(dice.below(64)) - 8.0,
            2 => tempo = f64::from(dice.below(280) + 20),
            3 => metre = [(4, 4), (3, 4), (6, 8), (5, 4), (7, 8), (12, 8)][dice.below(6) as usize],
            4 => host.reset(),
            5 => {
                host.stop();
                rate = [8_000.0, 44_100.0, 48_000.0, 192_000.0][dice.below(4) as usize];
                host.start(rate, 8192);
            }
            6 => saved = host.save(),
            7 => assert!(host.restore(&saved)),
            8 => host.idle(),
            _ => {}
        }
        let frames = [1, 16, 64, 100, 512, 4096][dice.below(6) as usize];
        let mut events = vec![];
        let mut frame = 0;
        for _ in 0..dice.below(4) {
            frame = (frame + dice.below(frames)).min(frames - 1);
            match dice.below(8) {
                0..=2 => {
                    // Seldom the player's own left hand: ours rests with it.
                    let own = dice.below(20) == 0;
                    let key = if own { 36 + dice.below(24) } else { 60 + dice.below(30) } as i16;
                    if !down.contains(&key) {
                        down.push(key);
                        events.push(In::on(frame, key));
                    }
                }
                3..=4 if !down.is_empty() => {
                    let key = down.swap_remove(dice.below(down.len() as u32) as usize);
                    events.push(In::off(frame, key));
                }
                5 => {
                    let value = [0, 127][dice.below(2) as usize];
                    events.push(In::Midi { frame, bytes: [0xB0, 64, value] });
                }
                6 => {
                    let param = &params[dice.below(params.len() as u32) as usize];
                    let steps = (param.max - param.min).max(1.0) as u32;
                    let value = param.min + f64::from(dice.below(steps + 1));
                    // Both hands are mostly on, and look-ahead, which every stop
                    // and start cuts, is mostly off.
                    let value = if (steps == 1 || param.id == ahead) && dice.below(4) > 0 {
                        param.default
                    } else {
                        value
                    };
                    events.push(In::Param { frame, id: param.id, value });
                }
                _ => {}
            }
        }
        let clock = Clock {
            playing,
            tempo: Some(tempo),
            metre: Some(metre),
            cycle: (dice.below(3) == 0).then_some((0.0, 8.0)),
            ..Clock::at(beat)
        };
        let clock = (dice.below(50) != 0).then_some(clock);
        let out = host.block(frames, clock, &events);
        answers += out.iter().filter(|event| struck_by_itself(event, &events)).count();
        apart += out.iter().filter(|out| matches!(out, Out::Apart { .. })).count();
        ledger.take(out.iter().filter_map(Out::note));
        if playing {
            beat += f64::from(frames) * tempo / 60.0 / rate;
        }
    }
    // The player lets go, the host stops.
    let mut last: Vec<_> = down.iter().map(|key| In::off(0, *key)).collect();
    // What a look-ahead still has on its way comes at once when it is put out.
    last.push(In::Param { frame: 0, id: ahead, value: 0.0 });
    for events in [&last[..], &[]] {
        let out = host.block(64, Some(Clock::stopped(beat)), events);
        ledger.take(out.iter().filter_map(Out::note));
    }
    assert!(answers > 100, "the left hand played no more than {answers} notes");
    assert!(apart > 50, "no more than {apart} events at its own output");
    assert_eq!(ledger.sounding(), []);
}
