//! What a window or a screen may show, copied out after a block.

use arrayvec::ArrayVec;

use super::hands::is_risky;
use super::program::Program;
use super::{Block, Engine, SlotView};
use crate::belief::begin::Begin;
use crate::chord::{Chord, NamedChord};
use crate::foresee::Forecast;
use crate::hear::Hearing;
use crate::key::Key;
use crate::pitch::KeyNumber;
use crate::play::{LeftHand, Moment, Role, SlotAt, Stroke, Why};
use crate::settings::Settings;
use crate::time::{Place, Ticks};

/// How often a second the slots are looked at anew.
const VIEWS: f64 = 60.0;

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
    pub left: ArrayVec<(KeyNumber, Role), { super::voices::MOST }>,
    /// The chord now.
    pub chord: Option<NamedChord>,
    /// What else it may be, if anything is worth a word.
    pub other: Option<NamedChord>,
    /// The key of the song, as set or heard.
    pub key: Key,
    /// What comes next.
    pub next: Option<Forecast>,
    /// Why our hand last struck as it did.
    pub why: Option<Why>,
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
            place: Place::first(crate::time::Metre::COMMON),
            tempo: 120.0,
            right: 0,
            own_left: 0,
            left: ArrayVec::new(),
            chord: None,
            other: None,
            key: Key::C_MAJOR,
            next: None,
            why: None,
            slots: ArrayVec::new(),
            coming: ArrayVec::new(),
            chart_chord: None,
            dropped: 0,
        }
    }
}

/// What a window sees, and what it was made from.
#[derive(Debug)]
pub struct EngineView {
    /// Copied out after each block.
    pub snapshot: Snapshot,
    /// Whether it is kept.
    pub watched: bool,
    /// Frames since the slots were looked at.
    unseen: u32,
    /// Whether something was played since.
    stale: bool,
    /// Whether the hand had to make up its mind in this block.
    pub busy: bool,
    /// What they were made from.
    basis: Option<Option<Basis>>,
    /// What was played in this bar.
    drawn: ArrayVec<SlotView, 48>,
    /// Keys of ours that sounded last, a bit each.
    sounding: u128,
}

/// What the coming slots depend on: where the hand is, what it is to play, what is
/// set, and which slot comes.
type Basis = (LeftHand, Moment, Settings, SlotAt);

impl Default for EngineView {
    fn default() -> Self {
        Self {
            snapshot: Snapshot::default(),
            watched: true,
            unseen: 0,
            stale: false,
            busy: false,
            basis: None,
            drawn: ArrayVec::new(),
            sounding: 0,
        }
    }
}

impl EngineView {
    /// A slot has been dealt with, or a stroke came between two: what there is to
    /// see of it.
    pub fn draw(&mut self, at: Ticks, stroke: &Stroke) {
        if !self.watched {
            return;
        }
        self.snapshot.why = stroke.first().map(|note| note.why).or(self.snapshot.why);
        let view = SlotView::of(at, true, stroke.iter().map(|note| (note.key, note.role)));
        // A key that is struck again ended there.
        let struck = stroke.iter().fold(0, |keys, note| keys | 1_u128 << note.key.number());
        self.end(at, |keys| keys & struck != 0);
        if self.drawn.is_full() {
            self.drawn.remove(0);
        }
        self.drawn.push(view);
        // What was foreseen of it is past.
        self.basis = None;
        self.stale = true;
    }

    /// At `at` these keys sound, a bit each.
    fn sound(&mut self, at: Ticks, keys: u128) {
        if core::mem::replace(&mut self.sounding, keys) != keys {
            self.end(at, |its| its & keys == 0);
        }
    }

    /// What is to be seen of the keys for which `ended` holds ended at `at`.
    fn end(&mut self, at: Ticks, ended: impl Fn(u128) -> bool) {
        let Snapshot { slots, coming, .. } = &mut self.snapshot;
        for view in self.drawn.iter_mut().chain(slots).chain(coming) {
            view.end(at, &ended);
        }
    }

    /// Time goes on from elsewhere.
    pub fn clear(&mut self) {
        self.snapshot.why = None;
        self.drawn.clear();
    }

    /// There is another pattern.
    pub fn look_again(&mut self) {
        self.basis = None;
    }

    /// Whether to look anew at what comes: when something was played, else not more
    /// often than eyes see; while the hand is busy a moment later, unless eyes saw that.
    fn is_time(&mut self, block: &Block<'_>) -> bool {
        let busy = core::mem::take(&mut self.busy);
        self.unseen = self.unseen.saturating_add(block.frames);
        let views = f64::from(self.unseen) * VIEWS / block.rate;
        let time = views >= 2.0 || !busy && (self.stale || views >= 1.0);
        if time {
            (self.unseen, self.stale) = (0, false);
        }
        time
    }

    /// What was played so far in the bars from `bar` to `end` and from there on.
    fn past(&mut self, bar: Ticks, end: Ticks) {
        self.drawn.retain(|view| view.at >= bar);
        let Snapshot { slots, coming, .. } = &mut self.snapshot;
        slots.clear();
        coming.clear();
        for view in &self.drawn {
            // An early hand may have had beat 1 of the next bar already.
            let bar = if view.at < end { &mut *slots } else { &mut *coming };
            let _ = bar.try_push(*view);
        }
    }

    /// The same, and of what was to come so much as still is.
    fn keep(&mut self, bar: Ticks, end: Ticks) {
        let last = self.drawn.last().map_or(bar, |view| view.at);
        let views = self.snapshot.slots.iter().chain(&self.snapshot.coming);
        // Neither collected nor consumed: both would move all the room that it has.
        let mut ahead = ArrayVec::<SlotView, 96>::new();
        ahead.extend(views.copied().filter(|view| !view.played && view.at > last));
        self.past(bar, end);
        for view in &ahead {
            let bar =
                if view.at < end { &mut self.snapshot.slots } else { &mut self.snapshot.coming };
            let _ = bar.try_push(*view);
        }
    }

    /// What the slots of this bar and the next will hold by the pattern.
    fn written(
        &mut self,
        basis: Basis,
        hearing: &Hearing,
        end: Ticks,
        program: &Program,
        next: Place,
    ) {
        let (mut hand, mut moment, settings, slot) = basis;
        let after = slot.at + Ticks(-1);
        let risky = |key, role, class| is_risky(key, role, class, hearing);
        for view in hand.preview(&program.pattern, &mut moment, &settings, after, risky) {
            let _ = self.snapshot.slots.try_push(unless_tacet(view, program));
        }
        moment.place = next;
        let line = after.max(end + Ticks(-1));
        for view in hand.preview(&program.pattern, &mut moment, &settings, line, risky) {
            let _ = self.snapshot.coming.try_push(unless_tacet(view, program));
        }
    }
}

/// A rest where the song has one.
fn unless_tacet(view: SlotView, program: &Program) -> SlotView {
    match program.tacet(view.at) {
        true => SlotView { role: None, key: None, above: 0, ..view },
        false => view,
    }
}

impl Engine {
    /// Copies out what a window may show, while one looks. Real-time safe.
    pub(super) fn show(&mut self, block: &Block<'_>) {
        if !self.view.watched {
            return;
        }
        let at = self.clock.at(block.frames);
        let place = self.place_of(at);
        let listener = &self.memory.listener;
        let hearing = *listener.ear().hearing();
        let snapshot = &mut self.view.snapshot;
        snapshot.playing = !self.clock.stands();
        snapshot.at = at;
        snapshot.tempo = self.clock.tempo();
        snapshot.place = place;
        snapshot.right = listener.ear().right();
        snapshot.own_left = listener.ear().own_left();
        snapshot.left = self.voices.sounding().map(|note| (note.key, note.role)).collect();
        snapshot.chord = hearing.named();
        snapshot.key = self.memory.key(&self.program);
        // While it is thought about, the last answer stays: nothing shall flicker.
        if !listener.is_thinking() {
            snapshot.next = listener.forecast();
        }
        snapshot.chart_chord =
            self.program.chart().and_then(|chart| listener.chart_chord(at, chart));
        snapshot.dropped = self.voices.dropped();
        let left = snapshot.left.iter();
        let sounding = left.fold(0, |keys, (key, _)| keys | 1_u128 << key.number());
        self.view.sound(at, sounding);
        if self.view.is_time(block) {
            let ear = self.memory.listener.ear();
            let other = |chord: Chord| ear.other_than(chord.root, &hearing.odds, at);
            self.view.snapshot.other = hearing.chord.and_then(other);
            self.preview(at, &hearing);
        } else if self.view.stale {
            self.view.keep(place.bar, place.bar + place.metre.bar());
        }
    }

    /// What the slots of this bar and the next will hold; not more often than eyes
    /// see, but at once when something was played.
    fn preview(&mut self, at: Ticks, hearing: &Hearing) {
        if self.clock.stands() {
            self.view.snapshot.slots.clear();
            self.view.snapshot.coming.clear();
            self.view.basis = None;
            return;
        }
        let place = self.view.snapshot.place;
        let next = self.agenda.waiting.map(|waiting| waiting.slot).or(self.agenda.slot);
        let basis = hearing.chord.zip(next).map(|(chord, slot)| {
            let moment = self.coming(at, chord, slot, hearing);
            let moment = Moment { at: place.bar, loudness: 0, ..moment };
            (self.hands.written, moment, self.program.settings, slot)
        });
        // The figure of a bar that is improvised may open or change at any time.
        let free = self.program.improvises(place.metre);
        if self.view.basis == Some(basis) && !free {
            return;
        }
        self.view.basis = Some(basis);
        let end = place.bar + place.metre.bar();
        self.view.past(place.bar, end);
        match basis {
            None => {}
            Some((.., slot)) if free => self.preview_free(place, end, slot.at + Ticks(-1)),
            Some(basis) => {
                let next = self.place_of(end);
                self.view.written(basis, hearing, end, &self.program, next);
            }
        }
    }

    /// What the hand would know at `at` to play `slot`, if nothing changes.
    fn coming(&self, at: Ticks, chord: Chord, slot: SlotAt, hearing: &Hearing) -> Moment {
        let likely = self.memory.likely(slot.at, hearing, &self.program);
        let begin = likely.unwrap_or(Begin { chord, class: chord.bass });
        let belief = self.memory.belief(at, *hearing, &self.program, &self.clock);
        belief.moment(begin, self.memory.starts(begin.chord))
    }

    /// The same where the hand improvises: it chooses its figure on the bar line, so
    /// of the next bar no more is known than the root of a chord that begins there.
    fn preview_free(&mut self, bar: Place, end: Ticks, after: Ticks) {
        let views = self.hands.free.preview(bar, &self.program.settings);
        let snapshot = &mut self.view.snapshot;
        for view in views.into_iter().filter(|view| view.at > after) {
            let _ = snapshot.slots.try_push(unless_tacet(view, &self.program));
        }
        let near = |next: &Forecast| (next.at - end).0.abs() <= Ticks::PER_BEAT / 8;
        if let Some(next) = snapshot.next.filter(near)
            && snapshot.coming.is_empty()
        {
            let root = next.chord.root == next.chord.bass;
            let role = Some(if root { Role::Root } else { Role::Bass });
            let (above, ends) = (0, [None; 2]);
            let view = SlotView { at: end, role, key: None, above, played: false, ends };
            let _ = snapshot.coming.try_push(unless_tacet(view, &self.program));
        }
    }
}
