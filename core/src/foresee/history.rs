//! The chords of this song so far, neighbours of one root told as one.

use super::line::Line;
use super::odds::Odds;
use super::repeats::Repeats;
use super::running::Running;
use super::triad::Triad;
use crate::chord::Chord;
use crate::time::{Place, Ticks};

/// A stretch of one root.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Event {
    /// When it was struck, to the grid that players mean (see [`snap`]).
    pub at: i64,
    /// Its root, C = 0.
    pub root: u8,
    /// Its third and fifth.
    pub triad: Triad,
    /// As it was struck; later changes of its colour are not kept.
    pub chord: Chord,
    /// The bar's number.
    pub bar: i64,
    /// Ticks from the bar line.
    pub offset: i64,
    /// Length of the bar in ticks.
    pub bar_ticks: i64,
    /// Length of the felt beat in ticks.
    pub pulse: i64,
    /// When the hand let go before the next chord came.
    pub ended: Option<i64>,
}

impl Event {
    /// A chord struck at `at` in the bar `place`.
    pub fn new(at: Ticks, chord: Chord, place: Place) -> Self {
        let pulse = place.metre.pulse().0.max(1);
        let at = snap(at, place);
        let place = place.of(at);
        Self {
            at: at.0,
            root: chord.root.index() as u8,
            triad: Triad::of(chord),
            chord,
            bar: place.number,
            offset: place.offset(at).0,
            bar_ticks: place.metre.bar().0.max(1),
            pulse,
            ended: None,
        }
    }

    /// The same moment, another chord.
    #[must_use]
    pub fn with_chord(self, chord: Chord) -> Self {
        Self { root: chord.root.index() as u8, triad: Triad::of(chord), chord, ..self }
    }
}

/// The grid point that a hand means which strikes at `at`: the beat or the
/// "and" if it lies within a fifth of a beat, else the nearest sixteenth or
/// triplet.
pub fn snap(at: Ticks, place: Place) -> Ticks {
    let pulse = place.metre.pulse().0.max(4);
    let from_bar = at.0.saturating_sub(place.bar.0);
    let nearest = |step: i64| from_bar.saturating_add(step / 2).div_euclid(step) * step;
    let half = nearest(pulse / 2);
    let meant = if (from_bar - half).abs() * 5 <= pulse {
        half
    } else {
        let (fourth, third) = (nearest(pulse / 4), nearest(pulse / 3));
        if (from_bar - fourth).abs() <= (from_bar - third).abs() { fourth } else { third }
    };
    Ticks(place.bar.0.saturating_add(meant))
}

/// What is known after one chord; the three latest are kept, so that a chord
/// judged again can be taken back.
#[derive(Clone, Debug)]
struct Generation {
    events: usize,
    last: Option<Event>,
    repeats: Repeats,
    running: Running,
}

impl Generation {
    fn new(odds: &'static Odds) -> Self {
        Self { events: 0, last: None, repeats: Repeats::new(), running: Running::new(odds) }
    }
}

/// The last [`History::CAPACITY`] stretches and what was learned from them.
#[derive(Debug)]
pub struct History {
    odds: &'static Odds,
    events: Vec<Event>,
    /// The same in columns.
    line: Line,
    generations: [Box<Generation>; 3],
    current: usize,
    /// How many chords can be taken back.
    undoable: usize,
}

impl History {
    /// The most that is remembered; the oldest quarter makes room.
    pub const CAPACITY: usize = 1024;

    /// Allocates once.
    pub fn new(odds: &'static Odds) -> Self {
        super::odds::make_ready();
        Self {
            odds,
            events: Vec::with_capacity(Self::CAPACITY),
            line: Line::new(),
            generations: std::array::from_fn(|_| Box::new(Generation::new(odds))),
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
        let now = self.generation_mut(0);
        now.events = 0;
        now.last = None;
        now.repeats.clear();
        now.running = Running::new(odds);
    }

    /// Every stretch, oldest first.
    pub fn events(&self) -> &[Event] {
        &self.events
    }

    /// Every stretch in columns.
    pub fn line(&self) -> &Line {
        &self.line
    }

    /// How the chords so far repeat the ones before.
    pub fn repeats(&self) -> &Repeats {
        &self.generation(0).repeats
    }

    /// What was counted on the way.
    pub fn running(&self) -> &Running {
        &self.generation(0).running
    }

    /// The chords and what was counted, to be told of the key.
    pub fn events_and_running(&mut self) -> (&[Event], &mut Running) {
        (&self.events, &mut self.generations[self.current % 3].running)
    }

    fn generation(&self, ahead: usize) -> &Generation {
        &self.generations[(self.current + ahead) % 3]
    }

    fn generation_mut(&mut self, ahead: usize) -> &mut Generation {
        &mut self.generations[(self.current + ahead) % 3]
    }

    /// One more chord; `false` if the root is still the same.
    pub fn push(&mut self, event: Event) -> bool {
        if self.events.len() >= Self::CAPACITY {
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
            return !same;
        }
        false
    }

    /// Takes the last `count` chords back (two at most); `false` if they
    /// cannot be.
    pub fn take_back(&mut self, count: usize) -> bool {
        if count > self.undoable {
            return false;
        }
        self.undoable -= count;
        self.current = (self.current + 3 - count % 3) % 3;
        let (len, last) = (self.generation(0).events, self.generation(0).last);
        self.events.truncate(len);
        self.line.truncate(len);
        if let (Some(slot), Some(event)) = (self.events.last_mut(), last) {
            *slot = event;
            self.line.end(event.ended.is_some());
        }
        true
    }

    /// The hand let go.
    pub fn end(&mut self, at: i64) {
        if let Some(last) = self.events.last_mut() {
            last.ended = Some(at);
        }
        self.line.end(true);
        let last = self.events.last().copied();
        self.generation_mut(0).last = last;
    }

    fn make_room(&mut self) {
        let gone = Self::CAPACITY / 4;
        self.events.drain(..gone.min(self.events.len()));
        self.line.forget_oldest(gone);
        let len = self.events.len();
        let now = self.generation_mut(0);
        now.repeats.forget_oldest(gone);
        now.running.forget_oldest(gone);
        now.events = len;
        self.undoable = 0;
    }
}
