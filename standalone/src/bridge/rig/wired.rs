//! The rig of ALSA, CoreMIDI, WinMM and the built-in sound: one thread that
//! carries every note ([`mod@hub`]), fed by a thread a keyboard.

use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::thread::JoinHandle;

use rtrb::{Consumer, Producer, RingBuffer};

use super::{Rig, RigOrder, sound};
use crate::bridge::hub::{self, Hub, HubControl, Routes, hub, spawn};
use crate::bridge::period::{Bridge, Flags};
use crate::bridge::ports::{Keeper, MidiSystem, PortNews, Selector};
use crate::bridge::run::links;
use crate::bridge::set::{roots, usual};
use crate::bridge::setup::SetupWords;
use crate::bridge::stage::{Stage, StageOptions};
use crate::bridge::withheld::Withheld;
use crate::sound::Speakers;

/// The built-in sound, as an instrument that is sent to.
pub const PIANO: &str = "the built-in piano";

/// At work.
pub struct Wired {
    system: Box<dyn MidiSystem>,
    keeper: Keeper,
    desk: HubControl,
    flags: Arc<Flags>,
    thread: Option<JoinHandle<Hub<Bridge>>>,
    words: SetupWords,
    speakers: Option<Speakers>,
    /// A stage for when the one at work fails; failed ones come home.
    spares: Producer<Box<Stage>>,
    broken: Consumer<Box<Stage>>,
    options: StageOptions,
}

/// A stage at rest.
fn stage(options: &StageOptions) -> Box<Stage> {
    Box::new(Stage::new(options.clone(), usual(), roots(), 0.0))
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
        let piano = order.words.sound.then(|| sound::open(order.words)).transpose()?;
        let taken = usize::from(order.words.sound);
        let (flags, withheld) = (Arc::<Flags>::default(), Arc::<Withheld>::default());
        withheld.set_clock(order.words.clock_out);
        order.options.map.withhold(&withheld);
        let options = order.options;
        let (player, free) = links(stage(&options));
        *order.links = Some(free);
        let (mut spares, spare) = RingBuffer::new(1);
        let (old, broken) = RingBuffer::new(4);
        let _ = spares.push(stage(&options));
        let bridge = Bridge::new(player, withheld, Arc::clone(&flags), (spare, old));
        // The piano has no wood blocks, nor a use for MIDI clock.
        let all = u64::MAX;
        let routes = Routes { left: all, click: all, clock: all & !(taken as u64) };
        let (hub, mut desk) = hub(bridge, routes);
        let thread = Some(spawn(hub)?);
        let speakers = piano.map(|(speakers, sound)| {
            desk.order(hub::HubOrder::Plug(0, Box::new(sound)));
            speakers
        });
        let named = (order.words.from.clone(), order.words.to.clone());
        let keeper = Keeper::new(named, order.words.echo, taken);
        let words = order.words.clone();
        Ok(Self { system, keeper, desk, flags, thread, words, speakers, spares, broken, options })
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
            && let Ok((speakers, sound)) = sound::open(&self.words)
        {
            self.speakers = Some(speakers);
            self.desk.order(hub::HubOrder::Plug(0, Box::new(sound)));
            tell(PortNews::SendsTo(PIANO.into()));
        }
    }
}

impl Rig for Wired {
    fn tend(&mut self, tell: &mut dyn FnMut(PortNews)) {
        if self.flags.fell_silent.swap(false, Ordering::AcqRel) {
            tell(PortNews::FellSilent);
        }
        if let Some(input) = self.flags.ring.swap(0, Ordering::AcqRel).checked_sub(1) {
            let from = self.keeper.input(input as usize).unwrap_or_default();
            tell(PortNews::Ring(from, self.open().1.join(", ")));
        }
    }

    fn look(&mut self, tell: &mut dyn FnMut(PortNews)) {
        while self.broken.pop().is_ok() {}
        if !self.spares.is_full() {
            let _ = self.spares.push(stage(&self.options));
        }
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
        self.flags.failed.swap(false, Ordering::AcqRel)
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
