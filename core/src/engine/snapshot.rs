//! What a window or a screen may show, copied out after a block.

use arrayvec::ArrayVec;

use super::strike::is_risky;
use super::{Block, Engine};
use crate::chord::Chord;
use crate::foresee::Forecast;
use crate::key::Key;
use crate::pitch::KeyNumber;
use crate::play::{Moment, Role, Stroke};
use crate::time::{Place, Ticks};

/// How often a second the slots are looked at anew.
const VIEWS: f64 = 60.0;

/// A chord with how sure its naming is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Heard {
    /// The chord.
    pub chord: Chord,
    /// How sure its root is, 0..=1.
    pub certainty: f32,
}

/// A slot of the pattern, or a stroke between two of them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SlotView {
    /// When it sounds.
    pub at: Ticks,
    /// What was played there, or will be if nothing changes; `None` for a rest.
    pub role: Option<Role>,
    /// The (lowest) key of it.
    pub key: Option<KeyNumber>,
    /// Whether it is past: then it is as it was played.
    pub played: bool,
}

/// The state of the engine at the end of a block: plain, fixed size.
#[derive(Clone, Debug, PartialEq)]
pub struct Snapshot {
    /// Whether time moves.
    pub playing: bool,
    /// Musical time.
    pub at: Ticks,
    /// The bar.
    pub place: Place,
    /// Quarter notes a minute.
    pub tempo: f64,
    /// Keys of the right hand that are down or held by a pedal; bit n is key n.
    pub right: u128,
    /// Keys of the player's own left hand.
    pub own_left: u128,
    /// Notes of our left hand that sound.
    pub left: ArrayVec<(KeyNumber, Role), { crate::sound::MOST }>,
    /// The chord now.
    pub chord: Option<Heard>,
    /// The key of the song, as set or heard.
    pub key: Key,
    /// What comes next.
    pub next: Option<Forecast>,
    /// This bar: what was played, then what will be.
    pub slots: ArrayVec<SlotView, 48>,
    /// The bar after it, as far as is foreseen.
    pub coming: ArrayVec<SlotView, 48>,
    /// Index in the song's chords of the one that holds, with a chart.
    pub chart_chord: Option<usize>,
    /// Notes that could not be sent, since the start.
    pub dropped: u32,
}

impl Default for Snapshot {
    fn default() -> Self {
        Self {
            playing: false,
            at: Ticks::ZERO,
            place: Place { bar: Ticks::ZERO, metre: crate::time::Metre::COMMON, number: 0 },
            tempo: 120.0,
            right: 0,
            own_left: 0,
            left: ArrayVec::new(),
            chord: None,
            key: Key::C_MAJOR,
            next: None,
            slots: ArrayVec::new(),
            coming: ArrayVec::new(),
            chart_chord: None,
            dropped: 0,
        }
    }
}

impl Engine {
    /// Copies out what a window may show. Real-time safe.
    pub(super) fn show(&mut self, block: &Block<'_>) {
        let at = self.clock.at(block.frames);
        let place = self.place_of(at);
        let hearing = self.listener.ear.hearing();
        let chord = hearing.chord.map(|chord| Heard { chord, certainty: hearing.certainty });
        let chart_chord = self.song.as_deref().and_then(|song| self.listener.chart_chord(at, song));
        let key = self.song_key();
        let snapshot = &mut self.snapshot;
        snapshot.playing = !self.clock.stands();
        snapshot.at = at;
        snapshot.tempo = self.clock.tempo();
        snapshot.place = place;
        snapshot.right = self.listener.ear.right();
        snapshot.own_left = self.listener.ear.own_left();
        snapshot.left = self.ledger.sounding().map(|note| (note.key, note.role)).collect();
        snapshot.chord = chord;
        snapshot.key = key;
        // While it is thought about, the last answer stays: nothing shall flicker.
        if !self.listener.is_thinking() {
            snapshot.next = self.listener.forecast();
        }
        snapshot.chart_chord = chart_chord;
        snapshot.dropped = self.ledger.dropped();
        self.preview(block, chord.map(|heard| heard.chord));
    }

    /// A slot has been dealt with, or a stroke came between two: what there is to
    /// see of it.
    pub(super) fn draw(&mut self, at: Ticks, stroke: &Stroke) {
        if !self.watched {
            return;
        }
        let lowest = stroke.iter().min_by_key(|note| note.key);
        let view = SlotView {
            at,
            role: lowest.map(|note| note.role),
            key: lowest.map(|note| note.key),
            played: true,
        };
        if self.drawn.is_full() {
            self.drawn.remove(0);
        }
        self.drawn.push(view);
        // What was foreseen of it is past.
        self.previewed = None;
        self.unseen = u32::MAX;
    }

    /// What the slots of this bar and the next will hold; not more often than eyes
    /// see, but at once when something was played.
    fn preview(&mut self, block: &Block<'_>, chord: Option<Chord>) {
        self.unseen = self.unseen.saturating_add(block.frames);
        if f64::from(self.unseen) * VIEWS < block.rate {
            return;
        }
        self.unseen = 0;
        if self.clock.stands() {
            self.snapshot.slots.clear();
            self.snapshot.coming.clear();
            self.previewed = None;
            return;
        }
        let place = self.snapshot.place;
        self.drawn.retain(|view| view.at >= place.bar);
        let next = self.waiting.map(|waiting| waiting.slot).or(self.slot);
        let coming = chord.zip(next).map(|(chord, slot)| {
            let begin = self.believed(slot.at, *self.listener.ear.hearing());
            let chord = begin.map_or(chord, |begin| begin.chord);
            let moment = self.moment(self.snapshot.at, chord, self.starts(chord));
            let instead = begin.map(|begin| begin.class);
            (self.hand, Moment { place, at: place.bar, loudness: 0, instead, ..moment }, slot)
        });
        let basis = coming.map(|(hand, moment, slot)| (hand, moment, self.settings, slot));
        // The figure of a bar that is improvised may open or change at any time.
        let free = self.pattern.improvises(place.metre);
        if self.previewed == Some(basis) && !free {
            return;
        }
        self.previewed = Some(basis);
        let end = place.bar + place.metre.bar();
        let (this, next): (ArrayVec<_, 48>, ArrayVec<_, 48>) =
            self.drawn.iter().copied().partition(|view| view.at < end);
        // An early hand may have had beat 1 of the next bar already.
        (self.snapshot.slots, self.snapshot.coming) = (this, next);
        let Some((mut hand, mut moment, slot)) = coming else { return };
        let after = slot.at + Ticks(-1);
        if free {
            return self.preview_free(place.bar, end, after);
        }
        let hearing = *self.listener.ear.hearing();
        let risky = |key, role, class| is_risky(key, role, class, &hearing);
        for view in hand.preview(&self.pattern, &mut moment, &self.settings, after, risky) {
            let _ = self.snapshot.slots.try_push(self.unless_tacet(view));
        }
        moment.place = self.place_of(end);
        let line = after.max(end + Ticks(-1));
        for view in hand.preview(&self.pattern, &mut moment, &self.settings, line, risky) {
            let _ = self.snapshot.coming.try_push(self.unless_tacet(view));
        }
    }

    /// The same where the hand improvises: it chooses its figure on the bar line, so
    /// of the next bar no more is known than the root of a chord that begins there.
    fn preview_free(&mut self, bar: Ticks, end: Ticks, after: Ticks) {
        let views = self.free.preview(bar, &self.settings);
        for view in views.into_iter().filter(|view| view.at > after) {
            let _ = self.snapshot.slots.try_push(self.unless_tacet(view));
        }
        let near = |next: &Forecast| (next.at - end).0.abs() <= Ticks::PER_BEAT / 8;
        if let Some(next) = self.snapshot.next.filter(near)
            && self.snapshot.coming.is_empty()
        {
            let root = next.chord.root == next.chord.bass;
            let role = Some(if root { Role::Root } else { Role::Bass });
            let view = SlotView { at: end, role, key: None, played: false };
            let _ = self.snapshot.coming.try_push(self.unless_tacet(view));
        }
    }

    /// A rest where the song has one.
    fn unless_tacet(&self, view: SlotView) -> SlotView {
        match self.tacet(view.at) {
            true => SlotView { role: None, key: None, ..view },
            false => view,
        }
    }
}
