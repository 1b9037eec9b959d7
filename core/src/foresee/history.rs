//! The chords of this song so far, neighbours of one root told as one.

use alloc::boxed::Box;
use alloc::vec::Vec;

use super::event::{CAPACITY, RootSpan};
use super::line::RootLine;
use super::odds::OddsTable;
use super::repeats::Repeats;
use super::running::Running;
use crate::time::Ticks;

/// What is known after one chord; the three latest are kept, so that a chord
/// judged again can be taken back.
#[derive(Clone, Debug)]
struct Generation {
    events: usize,
    last: Option<RootSpan>,
    repeats: Repeats,
    running: Running,
}

impl Generation {
    fn new(odds: &'static OddsTable) -> Self {
        Self { events: 0, last: None, repeats: Repeats::new(), running: Running::new(odds) }
    }
}

/// One of three that take turns.
pub(super) const fn turn<T>([first, second, third]: &[T; 3], n: usize) -> &T {
    match n % 3 {
        0 => first,
        1 => second,
        _ => third,
    }
}

/// The same, to be changed.
const fn turn_mut<T>([first, second, third]: &mut [T; 3], n: usize) -> &mut T {
    match n % 3 {
        0 => first,
        1 => second,
        _ => third,
    }
}

/// The last [`CAPACITY`] stretches and what was learned from them.
#[derive(Debug)]
pub struct History {
    odds: &'static OddsTable,
    events: Vec<RootSpan>,
    /// The same in columns.
    line: RootLine,
    generations: [Box<Generation>; 3],
    current: usize,
    /// How many chords can be taken back.
    undoable: usize,
}

impl History {
    /// Allocates once.
    pub fn new(odds: &'static OddsTable) -> Self {
        Self {
            odds,
            events: Vec::with_capacity(CAPACITY),
            line: RootLine::new(),
            generations: core::array::from_fn(|_| Box::new(Generation::new(odds))),
            current: 0,
            undoable: 0,
        }
    }

    /// Nothing was heard.
    pub fn clear(&mut self) {
        self.events.clear();
        self.line.truncate(0);
        self.undoable = 0;
        let odds = self.odds;
        let now = self.generation_mut();
        now.events = 0;
        now.last = None;
        now.repeats.clear();
        now.running = Running::new(odds);
    }

    /// Every stretch, oldest first.
    pub fn events(&self) -> &[RootSpan] {
        &self.events
    }

    /// Every stretch in columns.
    pub fn line(&self) -> &RootLine {
        &self.line
    }

    /// How the chords so far repeat the ones before.
    pub fn repeats(&self) -> &Repeats {
        &self.generation().repeats
    }

    /// What was counted on the way.
    pub fn running(&self) -> &Running {
        &self.generation().running
    }

    /// The chords and what was counted, to be told of the key.
    pub fn events_and_running(&mut self) -> (&[RootSpan], &mut Running) {
        (&self.events, &mut turn_mut(&mut self.generations, self.current).running)
    }

    fn generation(&self) -> &Generation {
        turn::<Box<_>>(&self.generations, self.current)
    }

    fn generation_mut(&mut self) -> &mut Generation {
        turn_mut::<Box<_>>(&mut self.generations, self.current)
    }

    /// One more chord, or the last one still if its root is the same.
    pub fn push(&mut self, event: RootSpan) {
        if self.events.len() >= CAPACITY {
            self.make_room();
        }
        let (now, next) = ((self.current) % 3, (self.current + 1) % 3);
        if let Ok([old, new]) = self.generations.get_disjoint_mut([now, next]) {
            let same = self.events.last().is_some_and(|last| last.root == event.root);
            if same {
                new.repeats.copy_from(&old.repeats);
                new.running = old.running.clone();
                if let Some(last) = self.events.last_mut() {
                    last.ended = None;
                }
                self.line.end(false);
            } else {
                self.events.push(event);
                self.line.push(&event);
                new.repeats.follow(&old.repeats, &event, &self.line);
                new.running = old.running.clone();
                new.running.hear(&self.events, &self.line, &new.repeats);
            }
            new.events = self.events.len();
            new.last = self.events.last().copied();
            self.current = next;
            self.undoable = (self.undoable + 1).min(2);
        }
    }

    /// Takes the last `count` chords back (two at most); `false` if they
    /// cannot be.
    pub fn take_back(&mut self, count: usize) -> bool {
        if count > self.undoable {
            return false;
        }
        self.undoable -= count;
        self.current = (self.current + 3 - count % 3) % 3;
        let (len, last) = (self.generation().events, self.generation().last);
        self.events.truncate(len);
        self.line.truncate(len);
        if let (Some(slot), Some(event)) = (self.events.last_mut(), last) {
            *slot = event;
            self.line.end(event.ended.is_some());
        }
        true
    }

    /// The ear is now so sure of the root of chord `index`, 0 to 1.
    pub fn doubt(&mut self, index: usize, sure: f32) {
        self.line.doubt(index, sure);
    }

    /// The hand let go.
    pub fn end(&mut self, at: Ticks) {
        if let Some(last) = self.events.last_mut() {
            last.ended = Some(at);
        }
        self.line.end(true);
        let last = self.events.last().copied();
        self.generation_mut().last = last;
    }

    fn make_room(&mut self) {
        let gone = CAPACITY / 4;
        self.events.drain(..gone.min(self.events.len()));
        self.line.forget_oldest(gone);
        let len = self.events.len();
        let now = self.generation_mut();
        now.repeats.forget_oldest(gone);
        now.running.forget_oldest(gone);
        now.events = len;
        self.undoable = 0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chord::{Chord, Kind};
    use crate::pitch::PitchClass;
    use crate::time::{Metre, Place};

    #[test]
    fn no_more_than_the_last_two_chords_are_taken_back() {
        let mut history = History::new(&crate::foresee::tables::MODEL.odds);
        for (n, root) in (0..).zip([0, 5, 7, 9]) {
            let chord = Chord::new(PitchClass::new(root), Kind::Major);
            history.push(RootSpan::new(Ticks(n * 3840), chord, Place::first(Metre::COMMON)));
        }
        let roots = |history: &History| history.events().iter().map(|e| e.root).collect::<Vec<_>>();
        assert!(!history.take_back(3));
        assert!(history.take_back(1) && history.take_back(1));
        assert_eq!(roots(&history), [0, 5]);
        assert!(!history.take_back(1), "what was before them is not kept");
        assert_eq!(roots(&history), [0, 5]);
    }
}
