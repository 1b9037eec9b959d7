//! The rig of ALSA, CoreMIDI, WinMM and the built-in sound: one thread that
//! carries every note ([`mod@hub`]), fed by a thread a keyboard.

use std::sync::atomic::Ordering;
use std::thread::JoinHandle;

use super::stock::StageStock;
use super::{Rig, RigOrder, sound};
use crate::bridge::hub::{self, Hub, HubControl, Routes, hub, spawn};
use crate::bridge::period::Bridge;
use crate::bridge::ports::{Keeper, MidiSystem, PortNews, Selector};
use crate::bridge::setup::SetupWords;
use crate::sound::{Speakers, Timbre};

/// The built-in sound, as an instrument that is sent to.
pub const PIANO: &str = "the built-in piano";

/// At work.
pub struct Wired {
    system: Box<dyn MidiSystem>,
    keeper: Keeper,
    desk: HubControl,
    stock: StageStock,
    thread: Option<JoinHandle<Hub<Bridge>>>,
    words: SetupWords,
    timbre: Timbre,
    speakers: Option<Speakers>,
}

impl Wired {
    /// Starts the stage; opens no port yet, but the speakers, if they are
    /// wished for.
    ///
    /// # Errors
    /// If the MIDI system or the sound device does not answer, or there is no
    /// thread left.
    pub fn start(mut system: Box<dyn MidiSystem>, order: RigOrder<'_>) -> Result<Self, String> {
        // Without a MIDI system there is nothing to play with, even where the
        // built-in sound would be heard.
        system.ports()?;
        let piano =
            order.words.sound.then(|| sound::open(order.words, order.timbre)).transpose()?;
        let (words, timbre) = (order.words.clone(), order.timbre.clone());
        let taken = usize::from(words.sound);
        let (bridge, stock) = StageStock::new(order);
        // The piano has no wood blocks, nor a use for MIDI clock.
        let all = u64::MAX;
        let routes = Routes { left: all, click: all, clock: all & !(taken as u64) };
        let (hub, mut desk) = hub(bridge, routes);
        let thread = Some(spawn(hub)?);
        let speakers = piano.map(|(speakers, sound)| {
            desk.order(hub::HubOrder::Plug(0, Box::new(sound)));
            speakers
        });
        let named = (words.from.clone(), words.to.clone());
        let keeper = Keeper::new(named, words.echo, taken);
        Ok(Self { system, keeper, desk, stock, thread, words, timbre, speakers })
    }

    /// A sound device that was taken away is tried again.
    fn look_at_speakers(&mut self, tell: &mut dyn FnMut(PortNews)) {
        if !self.words.sound {
            return;
        }
        if self.speakers.as_ref().is_some_and(Speakers::failed) {
            self.speakers = None;
            self.desk.order(hub::HubOrder::Unplug(0));
            tell(PortNews::OutGone("the sound device".into()));
        }
        if self.speakers.is_none()
            && let Ok((speakers, sound)) = sound::open(&self.words, &self.timbre)
        {
            self.speakers = Some(speakers);
            self.desk.order(hub::HubOrder::Plug(0, Box::new(sound)));
            tell(PortNews::SendsTo(PIANO.into()));
        }
    }
}

impl Rig for Wired {
    fn tend(&mut self, tell: &mut dyn FnMut(PortNews)) {
        if self.stock.flags.fell_silent.swap(false, Ordering::AcqRel) {
            tell(PortNews::FellSilent);
        }
        if let Some(input) = self.stock.flags.ring.swap(0, Ordering::AcqRel).checked_sub(1) {
            let from = self.keeper.input(input as usize).unwrap_or_default();
            tell(PortNews::Ring(from, self.open().1.join(", ")));
        }
    }

    fn look(&mut self, tell: &mut dyn FnMut(PortNews)) {
        self.stock.refresh();
        self.keeper.look(&mut *self.system, &mut self.desk, &mut *tell);
        self.look_at_speakers(tell);
    }

    fn wake(&self) {
        self.desk.told.bell.ring();
    }

    fn panic(&mut self) {
        self.desk.order(hub::HubOrder::Panic);
    }

    fn open(&self) -> (Vec<String>, Vec<String>) {
        let (from, mut to) = self.keeper.open();
        if self.speakers.is_some() {
            to.insert(0, PIANO.into());
        }
        (from, to)
    }

    fn there(&self) -> (Vec<String>, Vec<String>) {
        self.keeper.there().clone()
    }

    fn rewire(&mut self, from: Vec<Selector>, to: Vec<Selector>) {
        self.keeper.rewire(from, to);
    }

    fn zone(&mut self, modules: Vec<Option<Selector>>) -> Result<(), String> {
        self.keeper.zone(modules.into_iter());
        Ok(())
    }

    fn input(&self, input: usize) -> Option<String> {
        self.keeper.input(input)
    }

    fn piano(&mut self, percent: u8) {
        self.words.volume = Some(percent);
        if self.speakers.is_some() {
            sound::levels(percent).for_each(|level| self.desk.order(hub::HubOrder::Say(0, level)));
        }
    }

    fn missing(&self) -> Vec<String> {
        self.keeper.missing().to_vec()
    }

    fn dropped(&self) -> u32 {
        self.desk.told.dropped.load(Ordering::Relaxed)
    }

    fn late(&self) -> u64 {
        self.desk.told.lateness.over_us(5000.0)
    }

    fn failed(&mut self) -> bool {
        self.stock.failed()
    }

    fn end(&mut self) -> Vec<String> {
        // No more comes in; then whatever still sounds is ended.
        self.keeper.close_inputs();
        self.desk.told.quit.store(true, Ordering::Release);
        self.desk.told.bell.ring();
        let hub = self.thread.take().map(JoinHandle::join);
        drop(hub); // the wires close
        self.speakers = None; // fades
        vec![
            format!("through: {}", self.desk.told.through.line()),
            format!("left hand after its time: {}", self.desk.told.lateness.line()),
        ]
    }
}
