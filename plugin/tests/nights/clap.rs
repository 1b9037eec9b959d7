//! A CLAP host's night.

use super::clap_host::{ClapHost, Clock, Event, Param};
use super::dice::Dice;
use super::ledger::NotePlace;
use super::nights::{NightHost, NightTime};
use super::player::{Deed, TestKnob};

impl NightHost for ClapHost {
    fn knobs(&mut self) -> Vec<TestKnob> {
        let knob = |param: Param| {
            let step = |value| (value - param.min) as u32;
            let steps = step(param.max).max(1);
            let knob = TestKnob::new(param.name, param.id, steps, step(param.default));
            TestKnob { lowest: param.min, ..knob }
        };
        self.params().into_iter().filter(|param| param.name != "Edits").map(knob).collect()
    }

    fn start_anew(&mut self, rate: f64) {
        self.stop();
        self.start(rate, 8192);
    }

    fn reset(&mut self) {
        ClapHost::reset(self);
    }

    fn saved(&self) -> Vec<u8> {
        self.save()
    }

    fn take_back(&mut self, saved: &[u8]) -> bool {
        self.restore(saved)
    }

    fn act(&mut self, _: &mut Dice) {
        self.idle();
    }

    fn played(
        &mut self,
        frames: u32,
        time: Option<NightTime>,
        deeds: Vec<(u32, Deed)>,
        knobs: &[TestKnob],
    ) -> Vec<(bool, NotePlace)> {
        let clock = time.map(|time| Clock {
            playing: time.playing,
            tempo: Some(time.tempo),
            metre: Some((time.metre.0.into(), time.metre.1.into())),
            cycle: time.cycle,
            ..Clock::at(time.beat)
        });
        let event = |(frame, deed)| match deed {
            Deed::Strike(key) => Event::on(frame, key),
            Deed::Release(key) => Event::off(frame, key),
            Deed::Pedal(on) => Event::Midi { frame, bytes: [0xB0, 64, if on { 127 } else { 0 }] },
            Deed::Turn(knob, step) => {
                let value = knobs[knob].lowest + f64::from(step);
                Event::Param { frame, id: knobs[knob].id, value }
            }
        };
        let events: Vec<_> = deeds.into_iter().map(event).collect();
        self.block(frames, clock, &events).iter().filter_map(Event::note).collect()
    }
}
