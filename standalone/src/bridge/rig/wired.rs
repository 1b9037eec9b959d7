//! The rig of ALSA, CoreMIDI, WinMM and the built-in sound: a thread an
//! input, and one for the stage.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use parking_lot::Mutex;
use rtrb::RingBuffer;

use super::{Order, Rig, sound};
use crate::bridge::intake::{Intake, QUEUE, Shared};
use crate::bridge::meter::Meter;
use crate::bridge::outlet::Outlet;
use crate::bridge::ports::{Keeper, News, System};
use crate::bridge::run::{Job, Routes, links, spawn};
use crate::bridge::set::{roots, usual};
use crate::bridge::setup::Words;
use crate::bridge::stage::Stage;
use crate::sound::Speakers;

/// Inputs and outputs at most.
const MOST: usize = 16;
/// The built-in sound, as an instrument that is sent to.
const PIANO: &str = "the built-in piano";
/// How long the last note-offs may take.
const LAST: Duration = Duration::from_millis(1500);

/// At work.
pub struct Wired {
    system: Box<dyn System>,
    keeper: Keeper,
    intakes: Vec<Arc<Mutex<Intake>>>,
    shared: Shared,
    lateness: Arc<Meter>,
    failed: Arc<AtomicBool>,
    quit: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
    words: Words,
    speakers: Option<Speakers>,
}

impl Wired {
    /// Starts the stage; opens no port yet, but the speakers, if they are
    /// wished for.
    ///
    /// # Errors
    /// If the MIDI system or the sound device does not answer, or there is no
    /// thread left.
    pub fn start(mut system: Box<dyn System>, order: Order<'_>) -> Result<Self, String> {
        // Without a MIDI system there is nothing to play with, even where the
        // built-in sound would be heard.
        system.ports()?;
        let outlets: Arc<[Mutex<Outlet>]> = (0..MOST).map(|_| Mutex::default()).collect();
        let taken = usize::from(order.words.sound);
        let mut speakers = None;
        if let (true, Some(first)) = (order.words.sound, outlets.first()) {
            let (open, sound) = sound::open(order.words)?;
            speakers = Some(open);
            first.lock().plug(Box::new(sound));
        }
        let shared = Shared::new(Arc::clone(&outlets));
        shared.withheld.set_clock(order.words.clock_out);
        order.options.map.withhold(&shared.withheld);
        let (mut intakes, mut inputs) = (Vec::new(), Vec::new());
        for _ in 0..MOST {
            let (producer, consumer) = RingBuffer::new(QUEUE);
            intakes.push(Arc::new(Mutex::new(Intake::new(shared.clone(), producer))));
            inputs.push(consumer);
        }
        let named = (order.words.from.clone(), order.words.to.clone());
        let keeper = Keeper::new(named, order.words.echo, intakes.clone(), outlets, taken);
        let options = order.options;
        let again = move |now| Box::new(Stage::new(options.clone(), usual(), roots(), now));
        let (player, free) = links(again(0.0));
        *order.links = Some(free);
        // The piano has no wood blocks, nor a use for MIDI clock.
        let all = u64::MAX;
        let routes = Routes { left: all, click: all, clock: all & !(taken as u64) };
        let (lateness, failed, quit) = (Arc::default(), Arc::default(), Arc::default());
        let mut rig = Self {
            system,
            keeper,
            intakes,
            shared,
            lateness,
            failed,
            quit,
            thread: None,
            words: order.words.clone(),
            speakers,
        };
        rig.thread = Some(spawn(Job {
            player,
            again: Box::new(again),
            inputs,
            shared: rig.shared.clone(),
            routes,
            lateness: Arc::clone(&rig.lateness),
            failed: Arc::clone(&rig.failed),
            quit: Arc::clone(&rig.quit),
        })?);
        Ok(rig)
    }
}

impl Wired {
    /// A sound device that was taken away is tried again.
    fn look_at_speakers(&mut self, tell: &mut dyn FnMut(News)) {
        let Some(first) = self.shared.outlets.first().filter(|_| self.words.sound) else { return };
        if self.speakers.as_ref().is_some_and(Speakers::failed) {
            self.speakers = None;
            drop(first.lock().unplug());
            tell(News::OutGone("the sound device".into()));
        }
        if self.speakers.is_none()
            && let Ok((speakers, sound)) = sound::open(&self.words)
        {
            self.speakers = Some(speakers);
            first.lock().plug(Box::new(sound));
            tell(News::SendsTo(PIANO.into()));
        }
    }
}

impl Rig for Wired {
    fn tend(&mut self, tell: &mut dyn FnMut(News)) {
        for intake in &self.intakes {
            let mut intake = intake.lock();
            if intake.fell_silent() {
                intake.lost();
                drop(intake);
                tell(News::FellSilent);
            }
        }
    }

    fn look(&mut self, tell: &mut dyn FnMut(News)) {
        self.keeper.look(&mut *self.system, &mut *tell);
        self.look_at_speakers(tell);
    }

    fn wake(&self) {
        if let Some(stage) = self.shared.stage.lock().as_ref() {
            stage.unpark();
        }
    }

    fn panic(&mut self) {
        self.shared.outlets.iter().for_each(|outlet| outlet.lock().all_notes_off());
    }

    fn open(&self) -> (Vec<String>, Vec<String>) {
        let (from, mut to) = self.keeper.open();
        if self.speakers.is_some() {
            to.insert(0, PIANO.into());
        }
        (from, to)
    }

    fn missing(&self) -> Vec<String> {
        self.keeper.missing().to_vec()
    }

    fn dropped(&self) -> u32 {
        self.shared.outlets.iter().map(|outlet| outlet.lock().dropped()).sum()
    }

    fn late(&self) -> u64 {
        self.lateness.over_us(5000.0)
    }

    fn failed(&mut self) -> bool {
        self.failed.swap(false, Ordering::AcqRel)
    }

    fn end(&mut self) -> Vec<String> {
        // No more comes in; then the stage ends; then whatever still sounds.
        self.keeper.close_inputs();
        self.quit.store(true, Ordering::Release);
        if let Some(thread) = self.thread.take() {
            thread.thread().unpark();
            let _ = thread.join();
        }
        let outlets = Arc::clone(&self.shared.outlets);
        outlets.iter().for_each(|outlet| outlet.lock().hush_all());
        let start = Instant::now();
        while start.elapsed() < LAST && outlets.iter().any(|outlet| !outlet.lock().flush()) {
            std::thread::sleep(Duration::from_millis(2));
        }
        self.keeper.close();
        self.speakers = None; // fades
        vec![
            format!("through: {}", self.shared.through.line()),
            format!("left hand after its time: {}", self.lateness.line()),
        ]
    }
}
