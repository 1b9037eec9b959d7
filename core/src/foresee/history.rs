//! The chords of this song so far, neighbours of one root told as one.

use crate::chord::Chord;
use crate::time::{Place, Ticks};

/// A stretch of one root.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Event {
    /// When it was struck.
    pub at: Ticks,
    /// As it was struck; later changes of its colour are not kept.
    pub chord: Chord,
    /// The place of `at`.
    pub place: Place,
    /// When the hand let go before the next chord came.
    pub ended: Option<Ticks>,
}

/// The last [`History::CAPACITY`] stretches.
#[derive(Debug)]
pub(crate) struct History {
    events: Vec<Event>,
}

impl History {
    /// The most that is remembered; the oldest quarter makes room.
    pub const CAPACITY: usize = 1024;

    /// Allocates once.
    pub fn new() -> Self {
        Self { events: Vec::with_capacity(Self::CAPACITY) }
    }

    /// Nothing was heard.
    pub fn clear(&mut self) {
        self.events.clear();
    }

    /// Every stretch, oldest first.
    pub fn events(&self) -> &[Event] {
        &self.events
    }

    /// One more; `false` if the root is still the same.
    pub fn push(&mut self, event: Event) -> bool {
        if let Some(last) = self.events.last_mut()
            && last.chord.root == event.chord.root
        {
            last.ended = None;
            return false;
        }
        if self.events.len() >= Self::CAPACITY {
            self.events.drain(..Self::CAPACITY / 4);
        }
        self.events.push(event);
        true
    }

    /// The hand let go.
    pub fn end(&mut self, at: Ticks) {
        if let Some(last) = self.events.last_mut() {
            last.ended = Some(at);
        }
    }

    /// Back to the first `len`.
    pub fn truncate(&mut self, len: usize) {
        self.events.truncate(len);
    }
}
