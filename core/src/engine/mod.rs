//! The engine: one block after another, hear → foresee → play → sound.

use alloc::boxed::Box;

pub(crate) mod block;
mod clock;
mod known;
mod listener;
mod rests;
mod scout;
mod settings;
mod slots;
mod snapshot;
mod strike;
mod tacet;
mod together;

pub use block::{Block, Message, Output, Played, Timed, Transport};
pub use settings::{KeyChoice, Settings};
pub use snapshot::{Heard, SlotView, Snapshot};

use arrayvec::ArrayVec;

use crate::belief::begin::{self, Worth};
use crate::chord::Chord;
use crate::foresee::Song;
use crate::hear::{Ear, Hearing};
use crate::midi::Mode;
use crate::play::free::Book;
use crate::play::{FreeHand, LeftHand, Moment, Pattern, SlotAt};
use crate::sound::Ledger;
use crate::time::{Place, Ticks};
use clock::{Clock, Start};
use listener::{Given, Listener};
use rests::Rests;
use scout::Scout;
use together::{Grip, Habit, Punctuality, Waiting};

/// The left hand. Allocates in [`Engine::new`] and never after.
pub struct Engine {
    settings: Settings,
    pattern: Box<Pattern>,
    song: Option<Box<Song>>,
    /// Whether the place in the chart follows the hand.
    by_hand: bool,
    clock: Clock,
    listener: Listener,
    /// Hears ahead, if the home delays the right hand.
    scout: Option<Box<Scout>>,
    hand: LeftHand,
    /// Plays instead where the pattern says that it improvises.
    free: FreeHand,
    ledger: Ledger,
    rests: Rests,
    punctuality: Punctuality,
    habit: Habit,
    grip: Grip,
    /// The bar that time is in, by chart or host.
    place: Place,
    /// The next slot of the pattern; `None` while time stands still.
    slot: Option<SlotAt>,
    /// The last slot that was dealt with.
    taken: Option<SlotAt>,
    /// A slot whose time has come and that the right hand may still join.
    waiting: Option<Waiting>,
    /// What strokes are worth where chords are in doubt.
    worth: Worth,
    /// The chord that our hand last struck.
    struck: Option<Chord>,
    /// When the right hand last struck.
    right_struck: Option<Ticks>,
    /// The channel of the right hand's last note.
    right_channel: u8,
    /// The chord that `Output::heard` was last told of, and since when it holds.
    told: Option<(Ticks, Chord)>,
    /// The last answer of the ear, and when it gave it; until something happens
    /// it need not be asked again at that instant.
    last: Option<(Ticks, Hearing)>,
    snapshot: Snapshot,
    /// Whether the snapshot is kept.
    watched: bool,
    /// Frames since the snapshot's slots were looked at.
    unseen: u32,
    /// What they were made from.
    previewed: Option<Option<(LeftHand, Moment, Settings, SlotAt)>>,
    /// What was played in this bar.
    drawn: ArrayVec<SlotView, 48>,
}

/// What is due without the player doing anything, in the order in which it is
/// done when several fall on one tick.
#[derive(Clone, Copy, Debug)]
enum Due {
    /// A note of ours ends.
    End,
    /// The right hand's last stroke has settled.
    Settled,
    /// The slot that waited has waited long enough.
    Waited,
    /// A slot of the pattern.
    Slot,
    /// A part of what foresight and the ear's hindsight have to do, so that it
    /// need not be done in a block in which a chord is struck. Not to be heard.
    Thought,
}

impl Engine {
    /// A left hand at rest. Not for the audio thread: allocates.
    pub fn new(settings: Settings, pattern: Box<Pattern>) -> Self {
        let mut ear = Ear::new(settings.split);
        ear.set_key(settings.key);
        Self {
            settings,
            pattern,
            song: None,
            by_hand: false,
            clock: Clock::new(),
            listener: Listener::new(ear),
            scout: None,
            hand: LeftHand::new(),
            free: FreeHand::new(Book::shipped()),
            ledger: Ledger::default(),
            rests: Rests::default(),
            punctuality: Punctuality::new(),
            habit: Habit::new(),
            grip: Grip::new(),
            place: Place { bar: Ticks::ZERO, metre: crate::time::Metre::COMMON, number: 0 },
            slot: None,
            taken: None,
            waiting: None,
            worth: begin::WORTH,
            struck: None,
            right_struck: None,
            right_channel: 0,
            told: None,
            last: None,
            snapshot: Snapshot::default(),
            watched: true,
            unseen: 0,
            previewed: None,
            drawn: ArrayVec::new(),
        }
    }

    /// With ears that have learned something else, its own and the one ahead;
    /// for training and measuring.
    #[cfg(feature = "training")]
    #[must_use]
    pub fn with_ear(mut self, change: impl Fn(Ear) -> Ear) -> Self {
        let split = self.settings.split;
        let teach = |ear: &mut Ear| *ear = change(core::mem::replace(ear, Ear::new(split)));
        teach(&mut self.listener.ear);
        if let Some(scout) = &mut self.scout {
            teach(scout.ear());
        }
        self
    }

    /// With another book of bars for the hand that improvises; for training and
    /// measuring.
    #[doc(hidden)]
    #[must_use]
    pub fn with_book(mut self, book: Book) -> Self {
        self.free = FreeHand::new(book);
        self
    }

    /// With other tables of foresight and of what comes next; for measuring.
    #[doc(hidden)]
    #[must_use]
    pub fn with_models(
        mut self,
        foresight: Option<&'static crate::foresee::model::Model>,
        next: Option<&'static crate::belief::next::Model>,
    ) -> Self {
        self.listener.learn(foresight, next);
        if let Some(scout) = &mut self.scout {
            scout.listener().learn(foresight, next);
        }
        self
    }

    /// With another worth of strokes; for measuring.
    #[doc(hidden)]
    #[must_use]
    pub fn with_worth(mut self, worth: Worth) -> Self {
        self.worth = worth;
        self
    }

    /// What the last forecast was made of; for training.
    #[doc(hidden)]
    pub fn signs_of_next(&self) -> Option<(crate::belief::next::Signs, crate::foresee::Forecast)> {
        self.listener.signs()
    }

    /// Plays one block. Never allocates, locks, logs or panics.
    pub fn process(&mut self, block: &Block<'_>, out: &mut impl Output) {
        self.ledger.pay(out);
        match self.clock.begin(block) {
            Start::Stopped => self.stand_still(out),
            Start::Started => {
                self.rests.start();
                self.land(out);
            }
            Start::Jumped => self.land(out),
            Start::Rolling => self.mind_the_metre(),
        }
        let mut events = block.events;
        while let Some(first) = events.first() {
            let frame = first.frame.min(block.frames.saturating_sub(1));
            let same = events.iter().take_while(|event| event.frame == first.frame).count();
            let (instant, later) = events.split_at(same);
            self.play_until(frame, events, out);
            self.hear(frame, instant, out);
            events = later;
        }
        self.play_until(block.frames, &[], out);
        if self.watched {
            self.show(block);
        }
    }

    /// Everything the player did at one instant.
    fn hear(&mut self, frame: u32, instant: &[Timed], out: &mut impl Output) {
        let at = self.clock.at(frame);
        let mut struck = false;
        self.last = None;
        for event in instant {
            match event.message {
                Message::On { channel, key, velocity: velocity @ 1.. } => {
                    struck |= self.key_down(at, frame, (channel, key, velocity), out);
                }
                Message::On { channel, key, velocity: 0 } | Message::Off { channel, key, .. } => {
                    self.listener.ear.note_off(at, key);
                    self.ledger.give_back(channel, key, frame, out);
                }
                Message::Control { controller, value, .. } => {
                    self.listener.ear.control(at, controller, value);
                    if Mode::of(controller).is_some_and(Mode::ends_keys) {
                        self.ledger.end_all(frame, out);
                    }
                }
            }
        }
        self.rests.right(self.listener.ear.right() != 0, at);
        if self.clock.stands() {
            self.listen(at, out);
            self.listener.ear.settle();
        } else if struck {
            let place = self.place_of(at);
            let exact = (self.clock.within_a_tick(frame) - at.0 as f64) as f32;
            self.punctuality.struck(from_beat(at, place).0 as f32 + exact);
            self.habit.struck(at, place);
            self.right_struck = Some(at);
            let hearing = self.listen(at, out);
            self.answer(at, frame, hearing, out);
        }
    }

    /// A key goes down. `true` if it is the right hand's.
    fn key_down(
        &mut self,
        at: Ticks,
        frame: u32,
        (channel, key, velocity): (u8, crate::pitch::KeyNumber, u8),
        out: &mut impl Output,
    ) -> bool {
        self.ledger.lend(channel, key);
        self.listener.ear.note_on(at, key, velocity);
        let right = key >= self.settings.split;
        if right {
            self.right_channel = channel;
            self.free.hear(key, velocity, at, self.place_of(at));
            self.ledger.end_from(key, frame, out); // never cross the right hand
        } else {
            self.rests.own_left(at, self.place_of(at));
            self.waiting = None;
            self.ledger.end_own(frame, out);
        }
        right
    }

    /// What is due before frame `end`, in its order; `coming` is what the player
    /// does from there on in this block.
    fn play_until(&mut self, end: u32, coming: &[Timed], out: &mut impl Output) {
        while let Some((at, due)) = self.next_due() {
            let Some(frame) = self.clock.frame_before(at, end) else { break };
            match due {
                Due::End => self.ledger.end_due(frame, at, out),
                Due::Settled => {
                    self.grip.struck(self.listener.ear.struck_together(at));
                    let hearing = self.listen(at, out);
                    self.answer(at, frame, hearing, out);
                }
                Due::Waited => self.waited(at, frame, out),
                Due::Slot => self.slot_comes(frame, coming, out),
                Due::Thought => {
                    let found = self.listener.think(at, self.place_of(at), self.known_key());
                    if let Some((since, next)) = found {
                        out.foreseen(since, &next);
                    }
                }
            }
        }
    }

    /// The first thing that is due, if any; of several at once the first in
    /// their order.
    fn next_due(&self) -> Option<(Ticks, Due)> {
        let mut first: Option<(Ticks, Due)> = None;
        for (at, due) in [
            (self.ledger.next_end(), Due::End),
            (self.listener.ear.due(), Due::Settled),
            (self.waiting.map(|waiting| waiting.until), Due::Waited),
            (self.slot.map(|slot| slot.at), Due::Slot),
            (self.listener.thought(), Due::Thought),
        ] {
            if let Some(at) = at
                && first.is_none_or(|(earliest, _)| at < earliest)
            {
                first = Some((at, due));
            }
        }
        first
    }

    /// Hears the chord at `at`, and what comes next.
    fn listen(&mut self, at: Ticks, out: &mut impl Output) -> Hearing {
        if let Some((_, hearing)) = self.last.filter(|(then, _)| *then == at) {
            return hearing;
        }
        let given = Given {
            place: self.place_of(at),
            tempo: self.clock.tempo(),
            key: self.known_key(),
            song: self.song.as_deref(),
            known: self.scout.as_ref().and_then(|scout| scout.known(at)),
            leisure: !self.clock.stands(),
        };
        let hearing = self.listener.listen(at, given);
        if let (Some(chord), Some((since, before))) = (hearing.revised, self.told)
            && before != chord
        {
            out.heard(since, chord);
        }
        let told = hearing.chord.map(|chord| (hearing.since, chord));
        if let Some((since, chord)) = told.filter(|_| told != self.told) {
            out.heard(since, chord);
            self.told = told;
        }
        self.last = Some((at, hearing));
        hearing
    }

    /// The key that the player or the chart names.
    fn known_key(&self) -> Option<crate::key::Key> {
        match self.settings.key {
            KeyChoice::Fixed(key) => Some(key),
            KeyChoice::Auto => self.song.as_ref().and_then(|song| song.key),
        }
    }

    /// The key of the song: as named, or as heard.
    fn song_key(&self) -> crate::key::Key {
        self.known_key().unwrap_or_else(|| self.listener.ear.key())
    }

    /// Stopped: nothing sounds and nothing is due.
    fn stand_still(&mut self, out: &mut impl Output) {
        self.last = None;
        self.ledger.end_all(0, out);
        self.slot = None;
        self.waiting = None;
        self.listener.pause();
        self.place = self.clock.place();
    }

    /// Time starts, or goes on from elsewhere.
    fn land(&mut self, out: &mut impl Output) {
        self.last = None;
        self.ledger.end_all(0, out);
        self.hand.reset();
        self.free.reset();
        self.listener.pause();
        self.listener.ear.settle();
        self.waiting = None;
        self.struck = None;
        self.right_struck = None;
        self.taken = None;
        self.drawn.clear();
        let at = self.clock.at(0);
        self.rests.land(at);
        self.place = self.clock.place();
        self.slot = self.slot_after(at + Ticks(-1));
    }

    /// From the next block on. Real-time safe.
    pub fn set(&mut self, settings: Settings) {
        self.last = None;
        if settings.split != self.settings.split {
            self.listener.ear.set_split(settings.split);
        }
        if settings.key != self.settings.key || self.song.is_none() {
            self.listener.ear.set_key(settings.key);
        }
        if let Some(scout) = &mut self.scout {
            scout.set(&settings);
        }
        self.settings = settings;
    }

    /// The present settings.
    pub fn settings(&self) -> &Settings {
        &self.settings
    }

    /// Whether the place in the chart follows what the hand plays (on stage, in
    /// practice: it may rush, drag, wait, skip, repeat and start anywhere) or
    /// the home's bars, exactly (the default). Real-time safe.
    pub fn follow_hand(&mut self, by_hand: bool) {
        self.last = None;
        self.by_hand = by_hand;
        self.listener.follow_hand(by_hand);
    }

    /// Takes a new pattern, gives the old one back to be dropped elsewhere.
    /// What sounds ends when it would have. Real-time safe.
    #[must_use = "drop the old pattern off the audio thread"]
    pub fn swap_pattern(&mut self, pattern: Box<Pattern>) -> Box<Pattern> {
        let old = core::mem::replace(&mut self.pattern, pattern);
        self.previewed = None;
        self.waiting = None;
        if let Some(slot) = self.slot {
            // The new pattern's first slot that the old one has not had yet.
            self.slot = self.slot_after(slot.at + Ticks(-1));
        }
        old
    }

    /// Takes a new chart (or none), gives the old one back to be dropped
    /// elsewhere. Real-time safe.
    #[must_use = "drop the old chart off the audio thread"]
    pub fn swap_song(&mut self, song: Option<Box<Song>>) -> Option<Box<Song>> {
        self.last = None;
        let old = core::mem::replace(&mut self.song, song);
        self.free.forget_sections();
        self.listener.chart_changed();
        let key = self.known_key().map_or(KeyChoice::Auto, KeyChoice::Fixed);
        self.listener.ear.set_key(key);
        old
    }

    /// From now on the home delays the right hand by `span` and hands every
    /// block to [`Engine::hear_ahead`] first; zero ends it. Not for the audio
    /// thread: allocates.
    pub fn look_ahead(&mut self, span: Ticks) {
        self.last = None;
        self.scout = (span > Ticks::ZERO).then(|| Box::new(Scout::new(&self.settings, span)));
    }

    /// Another span, after [`Engine::look_ahead`]; zero: not ahead for now. The
    /// blocks that are heard ahead have the time of the others and `offset`: a
    /// home that knows of a jump (a loop) before the engine gets there lets
    /// their time go on over it. Real-time safe.
    pub fn lead(&mut self, span: Ticks, offset: Ticks) {
        self.last = None;
        if let Some(scout) = &mut self.scout {
            scout.lead(span, offset);
        }
    }

    /// How far it hears ahead, if it does.
    pub fn ahead(&self) -> Option<Ticks> {
        self.scout.as_ref().and_then(|scout| scout.span())
    }

    /// A block as the player plays it, a span before [`Engine::process`] gets
    /// the same block. Never allocates, locks, logs or panics.
    pub fn hear_ahead(&mut self, block: &Block<'_>) {
        let key = self.known_key();
        if let Some(scout) = &mut self.scout {
            scout.hear(block, key);
        }
    }

    /// Ends every note that sounds, at `frame` of the block to come: bypass,
    /// panic, shutdown. What `out` refuses stays owed. Real-time safe.
    pub fn silence(&mut self, frame: u32, out: &mut impl Output) {
        self.waiting = None;
        self.ledger.end_all(frame, out);
    }

    /// Forgets the song so far (memory and key heard); what sounds goes on.
    /// Real-time safe.
    pub fn forget(&mut self) {
        self.last = None;
        self.free = FreeHand::new(self.free.book());
        self.listener.forget();
        if let Some(scout) = &mut self.scout {
            scout.forget();
        }
        self.struck = None;
    }

    /// Whether somebody looks at the snapshot (the default); while nobody does,
    /// it stays as it is, and its cost is spared. Real-time safe.
    pub fn watch(&mut self, watched: bool) {
        self.watched = watched;
    }

    /// Whether time moves, the right hand holds anything, or ours sounds.
    /// Real-time safe.
    pub fn is_busy(&self) -> bool {
        !self.clock.stands()
            || self.listener.ear.right() != 0
            || self.ledger.sounding().next().is_some()
    }

    /// What to show. Real-time safe.
    pub fn snapshot(&self) -> &Snapshot {
        &self.snapshot
    }
}

/// How far `at` is from the nearest felt beat; early is negative.
fn from_beat(at: Ticks, place: Place) -> Ticks {
    let pulse = place.metre.pulse().0.max(1);
    let into = place.of(at).offset(at).0.rem_euclid(pulse);
    Ticks(if into * 2 > pulse { into - pulse } else { into })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pitch::KeyNumber;
    use crate::time::Metre;

    /// Nobody listens.
    struct Silence;

    impl Output for Silence {
        fn send(&mut self, _: Timed) -> bool {
            true
        }
    }

    fn block(beat: f64, events: &[Timed]) -> Block<'_> {
        let (bar, metre) = (crate::time::floor(beat / 4.0) * 4.0, Metre::COMMON);
        let transport = Transport { playing: true, beat, tempo: 120.0, metre, bar };
        Block { frames: 64, rate: 48_000.0, transport, events }
    }

    #[test]
    fn after_a_jump_nothing_is_due_that_lies_before_it() {
        let mut engine = Engine::new(Settings::default(), Pattern::default_boxed());
        let on = |key: i32| Timed {
            frame: 0,
            message: Message::On { channel: 0, key: KeyNumber::clamped(key), velocity: 80 },
        };
        engine.process(&block(0.0, &[60, 64, 67].map(on)), &mut Silence);
        // The stroke has not settled, and what follows it is being thought about.
        assert!(engine.next_due().is_some_and(|(at, _)| at < Ticks(960)));
        for beat in [100.0, 10_000.0, 4.0] {
            engine.clock.begin(&block(beat, &[]));
            engine.land(&mut Silence);
            let (at, due) = engine.next_due().expect("a slot");
            assert!(at >= engine.clock.at(0), "{due:?} at {at:?} after a jump to {beat}");
        }
    }
}
