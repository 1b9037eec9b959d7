//! What a CLAP host may do, as a die says: at the end every note has ended.

use super::clap_host::{ClapHost, Clock, Event, Param};
use super::dice::Dice;
use super::ledger::NoteCounts;
use super::player::{BLOCKS, Deed, METRES, RATES, RandomPlayer, TestKnob};

/// Whether the plugin struck a key that the host did not strike in this block.
fn struck_by_itself(event: &Event, events: &[Event]) -> bool {
    let Some((true, (_, _, key))) = event.note() else { return false };
    !events.iter().any(|event| matches!(event, Event::On { key: k, .. } if *k == key))
}

/// So many blocks; gives how many notes the left hand struck, and how many events went
/// to its own output.
pub fn night(host: &mut ClapHost, dice: &mut Dice, blocks: u32) -> [usize; 2] {
    let mut params = host.params();
    params.retain(|param| param.name != "Edits");
    let knob = |param: &Param| {
        let step = |value: f64| (value - param.min) as u32;
        TestKnob::new(&param.name, param.id, step(param.max).max(1), step(param.default))
    };
    let knobs: Vec<_> = params.iter().map(knob).collect();
    let by_ourselves = ["Look-ahead", "Play while stopped"].map(|name| host.param(name).id);
    let mut ledger = NoteCounts::default();
    let mut player = RandomPlayer::default();
    let (mut beat, mut playing) = (0.0, false);
    let (mut rate, mut tempo, mut metre) = (48_000.0, 120.0, METRES[0]);
    let (mut saved, mut answers, mut apart) = (host.save(), 0, 0);
    for _ in 0..blocks {
        match dice.below(160) {
            0 => playing = !playing,
            1 => beat = f64::from(dice.below(64)) - 8.0,
            2 => tempo = f64::from(dice.below(280) + 20),
            3 => metre = dice.pick(&METRES),
            4 => host.reset(),
            5 => {
                host.stop();
                rate = dice.pick(&RATES);
                host.start(rate, 8192);
            }
            6 => saved = host.save(),
            7 => assert!(host.restore(&saved)),
            8 => host.idle(),
            _ => {}
        }
        let frames = dice.pick(&BLOCKS);
        let deeds = player.play(dice, frames, &knobs).into_iter();
        let event = |(frame, deed)| match deed {
            Deed::Strike(key) => Event::on(frame, key),
            Deed::Release(key) => Event::off(frame, key),
            Deed::Pedal(on) => Event::Midi { frame, bytes: [0xB0, 64, if on { 127 } else { 0 }] },
            Deed::Turn(knob, step) => {
                let value = params[knob].min + f64::from(step);
                Event::Param { frame, id: knobs[knob].id, value }
            }
        };
        let events: Vec<_> = deeds.map(event).collect();
        let clock = Clock {
            playing,
            tempo: Some(tempo),
            metre: Some((metre.0.into(), metre.1.into())),
            cycle: (dice.below(3) == 0).then_some((0.0, 8.0)),
            ..Clock::at(beat)
        };
        let clock = (dice.below(50) != 0).then_some(clock);
        let out = host.block(frames, clock, &events);
        answers += out.iter().filter(|event| struck_by_itself(event, &events)).count();
        apart += out.iter().filter(|out| matches!(out, Event::Apart { .. })).count();
        ledger.take(out.iter().filter_map(Event::note));
        if playing {
            beat += f64::from(frames) * tempo / 60.0 / rate;
        }
    }
    // The player lets go, the host stops.
    let mut last: Vec<_> = player.down.iter().map(|key| Event::off(0, *key)).collect();
    // What a look-ahead still has on its way comes at once when it is put out; what
    // needs no host to play goes on after the host has stopped.
    last.extend(by_ourselves.map(|id| Event::Param { frame: 0, id, value: 0.0 }));
    for events in [&last[..], &[]] {
        let out = host.block(64, Some(Clock::stopped(beat)), events);
        ledger.take(out.iter().filter_map(Event::note));
    }
    assert_eq!(ledger.sounding(), []);
    [answers, apart]
}
