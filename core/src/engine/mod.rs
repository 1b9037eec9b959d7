//! The engine: one block after another, hear → foresee → play → sound.
//!
//! ```
//! use sinistra_core::engine::{Block, Engine, Message, Output, Settings, Timed, Transport};
//! use sinistra_core::pitch::KeyNumber;
//! use sinistra_core::play::Pattern;
//! use sinistra_core::time::Metre;
//!
//! /// Writes down what the left hand plays.
//! struct Notes(Vec<Timed>);
//!
//! impl Output for Notes {
//!     fn send(&mut self, event: Timed) -> bool {
//!         self.0.push(event);
//!         true
//!     }
//! }
//!
//! // The right hand strikes C E G on the first beat of a bar; half a second goes by.
//! let strike = |key| Message::On { channel: 0, key: KeyNumber::clamped(key), velocity: 80 };
//! let events = [60, 64, 67].map(|key| Timed { frame: 0, message: strike(key) });
//! let transport =
//!     Transport::moving(0.0, 120.0, Metre::COMMON);
//! let block = Block { frames: 24_000, rate: 48_000.0, transport, events: &events };
//!
//! let mut engine = Engine::new(Settings::default(), Pattern::default_boxed());
//! let mut notes = Notes(Vec::new());
//! engine.process(&block, &mut notes);
//!
//! let Message::On { key, .. } = notes.0[0].message else { panic!("a note") };
//! assert_eq!(key.class().index(), 0, "a C below the right hand");
//! assert!(key < KeyNumber::MIDDLE_C);
//! ```

#![cfg_attr(
    not(test),
    deny(clippy::indexing_slicing, clippy::cast_possible_truncation, clippy::cast_sign_loss)
)] // what is called here never panics

use alloc::boxed::Box;

mod agenda;
mod belief;
mod block;
mod clock;
mod hands;
mod home;
mod known;
mod listener;
mod memory;
mod pedal;
mod program;
mod rests;
mod scout;
mod snapshot;
mod strike;
mod together;
#[cfg(feature = "training")]
mod training;
mod voices;

pub use crate::chord::NamedChord;
pub use crate::play::SlotView;
pub use crate::settings::{KeyChoice, Settings};
pub use block::{Block, Message, Output, Played, Timed, Transport};
pub use snapshot::Snapshot;

use crate::maths;
use crate::midi::ChannelMode;
use crate::play::Pattern;
use crate::play::free::Book;
use crate::time::{Place, Ticks};
use agenda::Agenda;
use belief::Belief;
use clock::{BlockClock, BlockStart};
use hands::Pianist;
use memory::Memory;
use pedal::Pedal;
use program::Program;
use snapshot::EngineView;
use voices::Voices;

/// The left hand. Allocates in [`Engine::new`] and never after.
pub struct Engine {
    /// What is fixed until the home changes it.
    program: Program,
    /// Where time is.
    clock: BlockClock,
    /// What was heard, and is remembered.
    memory: Memory,
    /// Where our hands are, and what they have in mind.
    hands: Pianist,
    /// What they have to do next.
    agenda: Agenda,
    /// What sounds.
    voices: Voices,
    /// The pedal under our foot.
    pedal: Pedal,
    /// What a window sees of all that.
    view: EngineView,
}

/// What is due without the player doing anything, in the order in which it is
/// done when several fall on one tick.
#[derive(Clone, Copy, Debug)]
enum Due {
    /// A note of ours ends.
    End,
    /// Our pedal moves.
    Pedal,
    /// The next note of a stroke that is rolled.
    Start,
    /// The right hand's last stroke is heard that was put off.
    Struck,
    /// It has settled.
    Settled,
    /// The slot that waited has waited long enough.
    Waited,
    /// A slot of the pattern.
    Slot,
    /// A part of what foresight and the ear's hindsight have to do, so that it
    /// need not be done in a block in which a chord is struck. Not to be heard.
    Thought,
    /// The same for our hand.
    OwnThought,
}

impl Engine {
    /// A left hand at rest. Not for the audio thread: allocates.
    pub fn new(settings: Settings, pattern: Box<Pattern>) -> Self {
        Self {
            memory: Memory::new(&settings),
            program: Program { settings, pattern, song: None, by_hand: false },
            clock: BlockClock::new(),
            hands: Pianist::new(Book::shipped()),
            agenda: Agenda::default(),
            voices: Voices::default(),
            pedal: Pedal::default(),
            view: EngineView::default(),
        }
    }

    /// Plays one block: pays what is owed, moves time on, then for each instant at
    /// which the player did something, plays what was due before and hears it.
    /// Never allocates, locks, logs or panics.
    pub fn process(&mut self, block: &Block<'_>, out: &mut impl Output) {
        self.pay(out);
        self.begin(block, out);
        for (frame, instant, coming) in block.instants() {
            self.play_until(frame, coming, out);
            self.hear(frame, instant, out);
        }
        self.play_until(block.frames, &[], out);
        self.show(block);
    }

    /// Time stands still, starts, goes on from elsewhere, or goes on.
    fn begin(&mut self, block: &Block<'_>, out: &mut impl Output) {
        let before = self.clock.place();
        match self.clock.begin(block) {
            BlockStart::Stopped => self.stand_still(out),
            BlockStart::Started => {
                self.memory.rests.start();
                self.land(out);
            }
            BlockStart::Jumped => self.land(out),
            BlockStart::Rolling => {
                self.agenda.mind_the_metre(before, &self.program, &self.clock, &self.hands);
            }
        }
    }

    /// What is owed from the block before; a pedal that is not wanted comes up.
    fn pay(&mut self, out: &mut impl Output) {
        self.voices.pay(out);
        self.pedal.pay(out);
        let settings = &self.program.settings;
        if !(settings.pedal && settings.plays) {
            self.pedal.lift(0, out);
        }
    }

    /// Ends all that sounds: keys and pedal.
    fn end_all(&mut self, frame: u32, out: &mut impl Output) {
        self.voices.end_all(frame, out);
        self.pedal.let_go(frame, out);
    }

    /// Stopped: nothing sounds and nothing is due.
    fn stand_still(&mut self, out: &mut impl Output) {
        self.end_all(0, out);
        if self.agenda.struck.is_some() {
            self.believe(self.clock.at(0), out);
        }
        self.agenda = Agenda::default();
        self.memory.listener.pause();
    }

    /// Time starts, or goes on from elsewhere.
    fn land(&mut self, out: &mut impl Output) {
        let at = self.clock.at(0);
        self.end_all(0, out);
        self.hands.reset();
        self.memory.land(at);
        self.view.clear();
        self.agenda = Agenda::from(at, &self.program, &self.clock, &self.hands);
    }

    /// Everything the player did at one instant.
    fn hear(&mut self, frame: u32, instant: &[Timed], out: &mut impl Output) {
        let at = self.clock.at(frame);
        let mut struck = false;
        for event in instant {
            self.memory.listener.take_in(at, event.message);
            match event.message {
                Message::On { channel, key, velocity: velocity @ 1.. } => {
                    struck |= self.key_down(at, frame, (channel, key, velocity), out);
                }
                Message::On { channel, key, velocity: 0 } | Message::Off { channel, key, .. } => {
                    self.voices.give_back(channel, key, frame, out);
                }
                Message::Control { channel, controller, value } => {
                    self.pedal.hear((channel, controller, value), frame, out);
                    if ChannelMode::of(controller).is_some_and(ChannelMode::ends_keys) {
                        self.end_all(frame, out);
                    }
                }
            }
        }
        self.memory.rests.right(self.memory.listener.ear().right() != 0, at);
        if self.clock.stands() {
            self.believe(at, out);
            self.memory.listener.settle();
        } else if struck {
            let exact = maths::single(self.clock.within_a_tick(frame) - at.0 as f64);
            self.memory.right.struck(at, exact, self.place_of(at));
            self.agenda.struck = self.memory.listener.puts_off(at, self.clock.tempo());
            if self.agenda.struck.is_none() {
                self.hear_stroke(at, frame, out);
            }
        }
    }

    /// What the right hand struck is heard and answered.
    fn hear_stroke(&mut self, at: Ticks, frame: u32, out: &mut impl Output) {
        self.agenda.struck = None;
        let belief = self.believe(at, out);
        self.answer(&belief, frame, out);
    }

    /// A key went down. `true` if it is the right hand's.
    fn key_down(
        &mut self,
        at: Ticks,
        frame: u32,
        (channel, key, velocity): (u8, crate::pitch::KeyNumber, u8),
        out: &mut impl Output,
    ) -> bool {
        let place = self.place_of(at);
        let right = key >= self.program.settings.split;
        self.voices.lend(channel, key);
        if right {
            self.memory.right.channel = channel;
            self.hands.free.hear(key, velocity, at, place);
            self.voices.end_from(key, frame, out); // never cross the right hand
        } else {
            self.memory.rests.own_left(at, place);
            self.agenda.waiting = None;
            self.voices.end_own(frame, out);
            self.pedal.lift(frame, out);
        }
        right
    }

    /// What is due before frame `end`, in its order; `coming` is what the player
    /// does from there on in this block.
    fn play_until(&mut self, end: u32, coming: &[Timed], out: &mut impl Output) {
        while let Some((at, due)) = self.next_due() {
            let Some(frame) = self.clock.frame_before(at, end) else { break };
            match due {
                Due::End => self.voices.end_due(frame, at, out),
                Due::Pedal => self.pedal.act(at, self.channel(), frame, out),
                Due::Start => self.voices.strike_due(frame, at, out),
                Due::Struck => self.hear_stroke(at, frame, out),
                Due::Settled => {
                    let keys = self.memory.listener.ear().struck_together(at);
                    let place = self.place_of(at);
                    self.memory.right.stroke_over(keys, place);
                    self.memory.listener.set_lateness(self.memory.right.lateness());
                    self.hear_stroke(at, frame, out);
                }
                Due::Waited => self.waited(at, frame, out),
                Due::Slot => self.slot_comes(frame, coming, out),
                Due::Thought => {
                    let (place, key) = (self.place_of(at), self.program.key());
                    let chart = self.program.chart();
                    let listener = &mut self.memory.listener;
                    if let Some((since, next)) = listener.think(at, place, key, chart) {
                        out.foreseen(since, &next);
                    }
                }
                Due::OwnThought => self.hands.free.think(),
            }
        }
    }

    /// The first thing that is due, if any; of several at once the first in
    /// their order.
    fn next_due(&self) -> Option<(Ticks, Due)> {
        let due = [
            (self.voices.next_end(), Due::End),
            (self.pedal.due(), Due::Pedal),
            (self.voices.next_start(), Due::Start),
            (self.agenda.struck, Due::Struck),
            (self.settles(), Due::Settled),
            (self.agenda.waiting.map(|waiting| waiting.until), Due::Waited),
            (self.agenda.slot.map(|slot| slot.at), Due::Slot),
            (self.memory.listener.thought(), Due::Thought),
            (self.hands.free.thought(), Due::OwnThought),
        ];
        // Each block asks, so without a branch. Of equals the first is the least.
        const NEVER: Ticks = Ticks(i64::MAX);
        let due = due.into_iter().map(|(at, due)| (at.unwrap_or(NEVER), due));
        due.min_by_key(|(at, _)| *at).filter(|(at, _)| *at != NEVER)
    }

    /// When the right hand's last stroke is heard that has yet to settle.
    fn settles(&self) -> Option<Ticks> {
        self.memory.listener.settles(self.clock.tempo())
    }

    /// The channel of our hand, 0..=15.
    fn channel(&self) -> u8 {
        self.program.settings.channel.unwrap_or(self.memory.right.channel).min(15)
    }

    /// What is believed at `at`.
    fn believe(&mut self, at: Ticks, out: &mut impl Output) -> Belief {
        self.view.busy = true;
        self.memory.believe(at, &self.program, &self.clock, out)
    }

    /// The bar that holds `at`.
    fn place_of(&self, at: Ticks) -> Place {
        self.program.place_of(at, self.clock.place())
    }
}

#[cfg(test)]
mod tests;
