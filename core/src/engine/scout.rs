//! Look-ahead: a second ear that hears the right hand before it sounds.
//!
//! A home that delays the right hand by a span hands each block to the scout
//! at once, and to the engine a span later. What the scout had heard by then
//! is what the engine knows; nothing later, however time was cut into blocks.

use arrayvec::ArrayVec;

use super::clock::{Clock, Start};
use super::known::{Known, Struck};
use super::listener::{Given, Listener};
use super::{Block, Message, Settings, Timed};
use crate::hear::{Ear, Hearing};
use crate::key::Key;
use crate::time::Ticks;

/// Chords that are remembered: far more than a span of some bars holds.
const MOST: usize = 256;

/// A chord, written down when it was heard. It takes the place of all that
/// was written before for its own time and later.
#[derive(Clone, Copy, Debug)]
struct Entry {
    told: Ticks,
    struck: Struck,
}

/// Hears ahead. Allocates in [`Scout::new`] and never after.
pub struct Scout {
    clock: Clock,
    listener: Listener,
    log: ArrayVec<Entry, MOST>,
    /// When it listens next without the player doing anything.
    grid: Ticks,
    /// How far it is ahead of the engine; zero while nobody delays the hand.
    span: Ticks,
    /// Its time is the engine's and this: it goes on where a song is wound back.
    offset: Ticks,
}

impl Scout {
    /// Has heard nothing yet; will be `span` ahead. Not for the audio thread:
    /// allocates.
    pub fn new(settings: &Settings, span: Ticks) -> Self {
        let mut ear = Ear::new(settings.split);
        ear.set_key(settings.key);
        let listener = Listener::new(ear);
        Self {
            clock: Clock::new(),
            listener,
            log: ArrayVec::new(),
            grid: Ticks::ZERO,
            span,
            offset: Ticks::ZERO,
        }
    }

    /// How far it is ahead, if it is.
    pub fn span(&self) -> Option<Ticks> {
        (self.span > Ticks::ZERO).then_some(self.span)
    }

    /// See [`Engine::lead`](super::Engine::lead).
    pub fn lead(&mut self, span: Ticks, offset: Ticks) {
        if span <= Ticks::ZERO {
            self.log.clear();
        }
        (self.span, self.offset) = (span, offset);
    }

    /// Takes over what the player set.
    pub fn set(&mut self, settings: &Settings) {
        self.listener.ear.set_split(settings.split);
        self.listener.ear.set_key(settings.key);
    }

    /// A new song.
    pub fn forget(&mut self) {
        self.log.clear();
        self.listener.forget();
    }

    /// Hears one block. Never allocates, locks, logs or panics.
    pub fn hear(&mut self, block: &Block<'_>, key: Option<Key>) {
        match self.clock.begin(block) {
            Start::Rolling => {}
            Start::Stopped => {
                self.log.clear();
                self.listener.pause();
                let at = self.clock.at(0);
                return block.events.iter().for_each(|event| self.take_in(at, event));
            }
            Start::Jumped => {
                self.log.clear();
                self.listener.pause();
                self.grid = next_half(self.clock.at(0) + Ticks(-1));
            }
        }
        let mut events = block.events;
        while let Some(first) = events.first() {
            let frame = first.frame.min(block.frames.saturating_sub(1));
            let same = events.iter().take_while(|event| event.frame == first.frame).count();
            let (instant, later) = events.split_at(same);
            self.listen_until(frame, key);
            let at = self.clock.at(frame);
            instant.iter().for_each(|event| self.take_in(at, event));
            self.listen(at, key);
            events = later;
        }
        self.listen_until(block.frames, key);
    }

    fn take_in(&mut self, at: Ticks, event: &Timed) {
        let ear = &mut self.listener.ear;
        match event.message {
            Message::On { key, velocity: velocity @ 1.., .. } => ear.note_on(at, key, velocity),
            Message::On { key, .. } | Message::Off { key, .. } => ear.note_off(at, key),
            Message::Control { controller, value, .. } => ear.control(at, controller, value),
        }
    }

    /// What had been heard when the right hand was the span further than `at`.
    pub fn known(&self, at: Ticks) -> Option<Known> {
        let until = at + self.offset + self.span()?;
        let mut known = Known::default();
        let told = self.log.iter().rev().skip_while(|entry| entry.told > until);
        let mut from = Ticks(i64::MAX);
        for mut entry in told.map(|entry| entry.struck) {
            entry.at = entry.at - self.offset;
            if entry.at >= from {
                continue; // written over since
            }
            from = entry.at;
            if entry.at <= at {
                known.now = Some(entry);
                break;
            }
            known.next = Some(entry);
        }
        Some(known)
    }

    /// Listens at the ear's deadlines and on every half beat before `end`.
    fn listen_until(&mut self, end: u32, key: Option<Key>) {
        loop {
            let at = self.listener.ear.due().map_or(self.grid, |due| due.min(self.grid));
            let thought = self.listener.thought().filter(|thought| *thought < at);
            if self.clock.frame_before(thought.unwrap_or(at), end).is_none() {
                return;
            }
            if let Some(at) = thought {
                self.listener.think(at, self.clock.place().of(at), key);
                continue;
            }
            if at == self.grid {
                self.grid = next_half(at);
            }
            self.listen(at, key);
        }
    }

    fn listen(&mut self, at: Ticks, key: Option<Key>) {
        let given = Given {
            place: self.clock.place().of(at),
            tempo: self.clock.tempo(),
            key,
            song: None,
            known: None,
            leisure: true,
        };
        let hearing = self.listener.listen(at, given);
        self.write_down(at, &hearing);
    }

    fn write_down(&mut self, told: Ticks, hearing: &Hearing) {
        let Some(chord) = hearing.chord else { return };
        let struck = Struck { at: hearing.since, chord };
        let last = self.log.last().map(|entry| entry.struck);
        if last == Some(struck) {
            return;
        }
        if let (Some(chord), Some(before)) = (hearing.revised, last)
            && before.at < struck.at
        {
            self.push(Entry { told, struck: Struck { at: before.at, chord } });
        }
        self.push(Entry { told, struck });
    }

    fn push(&mut self, entry: Entry) {
        if self.log.is_full() {
            self.log.drain(..MOST / 2);
        }
        self.log.push(entry);
    }
}

/// The first half beat after `at`.
fn next_half(at: Ticks) -> Ticks {
    const HALF: i64 = Ticks::PER_BEAT / 2;
    Ticks((at.0.div_euclid(HALF) + 1) * HALF)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chord::{Chord, Kind};
    use crate::pitch::PitchClass;

    fn entry(told: i64, at: i64, root: i32) -> Entry {
        let chord = Chord::new(PitchClass::new(root), Kind::Major);
        Entry { told: Ticks(told), struck: Struck { at: Ticks(at), chord } }
    }

    #[test]
    fn only_what_was_heard_by_then_is_known() {
        let mut scout = Scout::new(&Settings::default(), Ticks(480));
        for written in [entry(0, 0, 0), entry(960, 960, 5), entry(1200, 960, 2)] {
            scout.push(written);
        }
        let root = |struck: Option<Struck>| struck.map(|s| s.chord.root.index());
        let known = scout.known(Ticks(480)).expect("it is ahead");
        assert_eq!((root(known.now), root(known.next)), (Some(0), Some(5)));
        let known = scout.known(Ticks(720)).expect("it is ahead"); // judged again since
        assert_eq!((root(known.now), root(known.next)), (Some(0), Some(2)));
        let known = scout.known(Ticks(1000)).expect("it is ahead");
        assert_eq!((root(known.now), root(known.next)), (Some(2), None));
    }

    #[test]
    fn where_the_song_is_wound_back_it_goes_on() {
        let mut scout = Scout::new(&Settings::default(), Ticks(960));
        scout.push(entry(3840, 3840, 7)); // after a loop of one bar, its first beat
        let before = scout.known(Ticks(3000)).expect("it is ahead");
        assert_eq!(before.next.map(|next| next.at), Some(Ticks(3840)));
        scout.lead(Ticks(960), Ticks(3840));
        let after = scout.known(Ticks(10)).expect("it is ahead");
        assert_eq!(after.now.map(|now| now.at), Some(Ticks(0)));
        scout.lead(Ticks::ZERO, Ticks::ZERO);
        assert!(scout.known(Ticks(10)).is_none());
    }
}
