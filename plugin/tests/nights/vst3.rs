//! What a VST3 host may do, as a die says: at the end every note has ended.

use vst3::Steinberg::Vst::*;
use vst3::Steinberg::*;

use super::dice::Dice;
use super::ledger::NoteCounts;
use super::player::{BLOCKS, Deed, METRES, RATES, RandomPlayer, TestKnob};
use super::vst3_host::{Change, Out, Vst3Host, Vst3Time, off, on, text};

/// What may be automated, and look-ahead.
fn knobs(host: &Vst3Host) -> Vec<TestKnob> {
    let knob = |info: ParameterInfo| {
        let steps = f64::from(info.stepCount.max(1));
        let first = (info.defaultNormalizedValue * steps).round();
        TestKnob::new(&text(&info.title), info.id, steps as u32, first as u32)
    };
    let edits = host.param("Edits");
    host.own_parameters().into_iter().map(knob).filter(|knob| knob.id != edits).collect()
}

/// So many blocks; gives how many notes the left hand struck, and how many events went
/// to its own output.
pub fn night(host: &Vst3Host, dice: &mut Dice, blocks: u32) -> [usize; 2] {
    host.turn_second_output(true);
    let own = Change(host.param("Left hand's own output"), 0, 1.0);
    host.block_at(0, None, vec![], vec![own]);
    let knobs = knobs(host);
    let by_ourselves = ["Look-ahead", "Play while stopped"].map(|name| host.param(name));
    assert!(by_ourselves.iter().all(|id| knobs.iter().any(|knob| knob.id == *id)));
    let mapping = host.component.cast::<IMidiMapping>().unwrap();
    let mut pedal = 0;
    assert_eq!(unsafe { mapping.getMidiControllerAssignment(0, 0, 64, &mut pedal) }, kResultOk);
    let mut ledger = NoteCounts::default();
    let mut player = RandomPlayer::default();
    let (mut time, mut rate) = (Vst3Time::stopped(0.0), 48_000.0);
    let (mut saved, mut answers, mut apart) = (host.save(), 0, 0);
    for _ in 0..blocks {
        match dice.below(160) {
            0 => time.playing = !time.playing,
            1 => time.beat = f64::from(dice.below(64)) - 8.0,
            2 => time.tempo = f64::from(dice.below(280) + 20),
            3 => {
                let (beats, unit) = dice.pick(&METRES);
                time.metre = (beats.into(), unit.into());
            }
            4 => host.restart(),
            5 => {
                host.stop();
                rate = dice.pick(&RATES);
                host.start(rate, 8192);
            }
            6 => saved = host.save(),
            7 => assert!(host.restore(&saved)),
            8 => time.cycle = (dice.below(2) == 0).then_some((0.0, 8.0)),
            9 => host.bare_block(0),
            10 => host.turn_second_output(dice.below(4) > 0),
            _ => {}
        }
        let frames = dice.pick(&BLOCKS);
        let (mut events, mut changes, mut struck) = (vec![], vec![], vec![]);
        for (frame, deed) in player.play(dice, frames, &knobs) {
            let frame = frame as i32;
            match deed {
                Deed::Strike(key) => {
                    struck.push(key);
                    events.push(on(frame, key));
                }
                Deed::Release(key) => events.push(off(frame, key)),
                Deed::Pedal(on) => changes.push(Change(pedal, frame, on.into())),
                Deed::Turn(knob, step) => {
                    let TestKnob { id, steps, .. } = knobs[knob];
                    changes.push(Change(id, frame, f64::from(step) / f64::from(steps)));
                }
            }
        }
        let clock = (dice.below(50) != 0).then_some(time);
        let out = host.block_at(frames as i32, clock, events, changes);
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
    // comes at once when it is put out, and what needs no host to play goes on after
    // the host has stopped.
    let last = player.down.iter().map(|key| off(0, *key)).collect();
    let stopped = Some(Vst3Time { playing: false, ..time });
    let put_out = Vec::from(by_ourselves.map(|id| Change(id, 0, 0.0)));
    for (events, changes) in [(last, put_out), (vec![], vec![])] {
        let out = host.block_at(64, stopped, events, changes);
        ledger.take(out.iter().filter_map(Out::note));
    }
    assert_eq!(ledger.sounding(), []);
    [answers, apart]
}
