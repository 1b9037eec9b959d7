//! A VST3 host's night.

use vst3::Steinberg::Vst::*;
use vst3::Steinberg::*;

use super::dice::Dice;
use super::ledger::NotePlace;
use super::nights::{NightHost, NightTime};
use super::player::{Deed, TestKnob};
use super::vst3_host::{Out, ParameterChange, Vst3Host, Vst3Time, off, on, text};

impl NightHost for Vst3Host {
    fn knobs(&mut self) -> Vec<TestKnob> {
        self.turn_second_output(true);
        let own = ParameterChange(self.param("Left hand's own output"), 0, 1.0);
        self.block_at(0, None, vec![], vec![own]);
        let knob = |info: ParameterInfo| {
            let steps = f64::from(info.stepCount.max(1));
            let first = (info.defaultNormalizedValue * steps).round();
            TestKnob::new(text(&info.title), info.id, steps as u32, first as u32)
        };
        self.own_parameters().into_iter().map(knob).filter(|knob| knob.name != "Edits").collect()
    }

    fn start_anew(&mut self, rate: f64) {
        self.stop();
        self.start(rate, 8192);
    }

    fn reset(&mut self) {
        self.restart();
    }

    fn saved(&self) -> Vec<u8> {
        self.save()
    }

    fn take_back(&mut self, saved: &[u8]) -> bool {
        self.restore(saved)
    }

    fn act(&mut self, dice: &mut Dice) {
        match dice.below(2) {
            0 => self.bare_block(0),
            _ => self.turn_second_output(dice.below(4) > 0),
        }
    }

    fn played(
        &mut self,
        frames: u32,
        time: Option<NightTime>,
        deeds: Vec<(u32, Deed)>,
        knobs: &[TestKnob],
    ) -> Vec<(bool, NotePlace)> {
        let time = time.map(|time| Vst3Time {
            playing: time.playing,
            tempo: time.tempo,
            metre: (time.metre.0.into(), time.metre.1.into()),
            cycle: time.cycle,
            ..Vst3Time::at(time.beat)
        });
        let mapping = self.component.cast::<IMidiMapping>().unwrap();
        let mut pedal = 0;
        let mapped = unsafe { mapping.getMidiControllerAssignment(0, 0, 64, &mut pedal) };
        assert_eq!(mapped, kResultOk);
        let (mut events, mut changes) = (vec![], vec![]);
        for (frame, deed) in deeds {
            let frame = frame as i32;
            match deed {
                Deed::Strike(key) => events.push(on(frame, key)),
                Deed::Release(key) => events.push(off(frame, key)),
                Deed::Pedal(on) => changes.push(ParameterChange(pedal, frame, on.into())),
                Deed::Turn(knob, step) => {
                    let TestKnob { id, steps, .. } = knobs[knob];
                    changes.push(ParameterChange(id, frame, f64::from(step) / f64::from(steps)));
                }
            }
        }
        self.block_at(frames as i32, time, events, changes).iter().filter_map(Out::note).collect()
    }
}
