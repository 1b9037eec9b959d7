//! Ten thousand things that a VST3 host may do, in a random order from a fixed
//! seed: at the end every note has ended.

#![allow(clippy::unwrap_used, clippy::panic, clippy::unnecessary_cast, unsafe_code)]

mod dice;
mod ledger;
mod vst3_host;

use dice::Dice;
use ledger::Ledger;
use vst3::Steinberg::Vst::*;
use vst3::Steinberg::*;
use vst3_host::{Change, Host, Out, Time, off, on};

/// What may be automated, and look-ahead, as ids, steps and what they mostly are.
fn parameters(host: &Host) -> Vec<(u32, i32, f64)> {
    let (apart, edits) = (host.param("Left hand's own output"), host.param("Edits"));
    let info = |index| unsafe {
        let mut info: ParameterInfo = std::mem::zeroed();
        assert_eq!(host.controller.getParameterInfo(index, &mut info), kResultOk);
        let mostly = if info.id == apart { 1.0 } else { info.defaultNormalizedValue };
        (info.id, info.stepCount, mostly)
    };
    (0..host.own_parameters()).map(info).filter(|(id, ..)| *id != edits).collect()
}

#[test]
fn ten_thousand_actions_leave_no_note_behind() {
    let mut dice = Dice(21);
    let host = Host::started();
    host.turn_second_output(true);
    let own = Change(host.param("Left hand's own output"), 0, 1.0);
    host.block_at(0, None, vec![], vec![own]);
    let params = parameters(&host);
    let ahead = host.param("Look-ahead");
    assert!(params.iter().any(|(id, ..)| *id == ahead));
    let mapping = host.component.cast::<IMidiMapping>().unwrap();
    let mut pedal = 0;
    assert_eq!(unsafe { mapping.getMidiControllerAssignment(0, 0, 64, &mut pedal) }, kResultOk);
    let mut ledger = Ledger::default();
    let mut down: Vec<i16> = vec![];
    let (mut time, mut rate) = (Time::stopped(0.0), 48_000.0);
    let (mut saved, mut answers, mut apart) = (host.save(), 0, 0);
    for _ in 0..10_000 {
        match dice.below(160) {
            0 => time.playing = !time.playing,
            1 => time.beat = f64::from(dice.below(64)) - 8.0,
            2 => time.tempo = f64::from(dice.below(280) + 20),
            3 => time.metre = [(4, 4), (3, 4), (6, 8), (5, 4), (7, 8)][dice.below(5) as usize],
            4 => host.restart(),
            5 => {
                host.stop();
                rate = [8_000.0, 44_100.0, 48_000.0, 192_000.0][dice.below(4) as usize];
                host.start(rate, 8192);
            }
            6 => saved = host.save(),
            7 => assert!(host.restore(&saved)),
            8 => time.cycle = (dice.below(2) == 0).then_some((0.0, 8.0)),
            9 => host.bare_block(0),
            10 => host.turn_second_output(dice.below(4) > 0),
            _ => {}
        }
        let frames = [1, 16, 64, 100, 512, 4096][dice.below(6) as usize];
        let (mut events, mut changes, mut struck) = (vec![], vec![], vec![]);
        let mut frame = 0;
        for _ in 0..dice.below(4) {
            frame = (frame + dice.below(frames as u32) as i32).min(frames - 1);
            match dice.below(8) {
                0..=2 => {
                    // Seldom the player's own left hand: ours rests with it.
                    let own = dice.below(20) == 0;
                    let key = if own { 36 + dice.below(24) } else { 60 + dice.below(30) } as i16;
                    if !down.contains(&key) {
                        down.push(key);
                        struck.push(key);
                        events.push(on(frame, key));
                    }
                }
                3..=4 if !down.is_empty() => {
                    let key = down.swap_remove(dice.below(down.len() as u32) as usize);
                    events.push(off(frame, key));
                }
                5 => changes.push(Change(pedal, frame, dice.below(2).into())),
                6 => {
                    let (id, steps, default) = params[dice.below(params.len() as u32) as usize];
                    let value = f64::from(dice.below(steps as u32 + 1)) / f64::from(steps.max(1));
                    // Both hands are mostly on, and look-ahead, which every stop
                    // and start cuts, is mostly off.
                    let value = if (steps == 1 || id == ahead) && dice.below(4) > 0 {
                        default
                    } else {
                        value
                    };
                    changes.push(Change(id, frame, value));
                }
                _ => {}
            }
        }
        let clock = (dice.below(50) != 0).then_some(time);
        let out = host.block_at(frames, clock, events, changes);
        let notes = out.iter().filter_map(Out::note);
        let by_itself = notes.clone().filter(|(on, (.., key))| *on && !struck.contains(key));
        answers += by_itself.count();
        apart += out.iter().filter(|out| matches!(out, Out::Apart(..))).count();
        ledger.take(notes);
        if time.playing {
            time.beat += f64::from(frames) * time.tempo / 60.0 / rate;
        }
    }
    // The player lets go, the host stops; what a look-ahead still has on its way
    // comes at once when it is put out.
    let last = down.iter().map(|key| off(0, *key)).collect();
    let stopped = Some(Time { playing: false, ..time });
    for (events, changes) in [(last, vec![Change(ahead, 0, 0.0)]), (vec![], vec![])] {
        let out = host.block_at(64, stopped, events, changes);
        ledger.take(out.iter().filter_map(Out::note));
    }
    assert!(answers > 100, "the left hand played no more than {answers} notes");
    assert!(apart > 50, "no more than {apart} events at its own output");
    assert_eq!(ledger.sounding(), []);
}
