//! The free hand: what a pianist's left hand improvises.
//!
//! Bar by bar it goes on in the song of the book of bars that it is in, or
//! moves to a bar that was played in surroundings like these; each place of the
//! bar is struck on the tones of the chord that holds now.

pub mod book;
mod choose;
mod figure;
mod fit;
mod form;
mod landing;
mod notes;
mod open;
mod voicing;

pub use book::Book;
pub use landing::Landing;
pub use notes::belongs;

use super::ahead::Following;
use super::lead::{From, Led, lead};
use super::phrase::MOST_BARS;
use super::reach::PlayableKeys;
use super::why::{Heard, Rule};
use super::{Moment, Pattern, Role, SlotAt, SlotView, Stroke, Wish, accent};
use crate::chance::Chance;
use crate::foresee::Forecast;
use crate::pitch::KeyNumber;
use crate::settings::Settings;
use crate::time::{Metre, Place, Ticks};
use arrayvec::ArrayVec;
use choose::BarChooser;
use figure::FigurePlace;
use fit::Fit;
use form::HeardForm;
use open::OpenBar;
use voicing::{HandPosition, StruckKey};

/// The number of a slot at which a bar is opened: what it holds is not known
/// before.
const UNOPENED: usize = usize::MAX;

/// A bar of a chart that was given none yet.
const NONE: u16 = u16::MAX;

/// Nothing has sounded yet.
const SILENT: Ticks = Ticks(i64::MIN);

/// How often a note leads where one can. The chord's fifth is the last note in
/// 39 % of the changes of POP909-CL where it is the next root.
const LEADS: f32 = 0.4;

/// The shortest time between two strokes of a figure, in seconds: a figure lies
/// in the hand, and is played faster than what is thought of note by note
/// (eleven tones a second, the middle of Goebl & Palmer's, see [`super::reach`]).
const FASTEST: f64 = 0.09;

/// From this level of accent on a place is too weak for a root that the figure
/// does not have there to be worth more than the figure: off the beat.
const WEAK: u8 = 3;

/// What the right hand has done in this bar and those before.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
struct Right {
    /// The bar line.
    line: Ticks,
    strokes: u8,
    before: u8,
    /// Its strokes off the eighths, in this bar and the two before.
    fine: [u8; 3],
    last: Option<Ticks>,
    /// All its keys so far, mixed.
    keys: u64,
    /// How loud it is over the whole song.
    loudness: f32,
}

/// The memory of the free hand. Fixed size.
#[derive(Clone, Debug, PartialEq)]
pub struct FreeHand {
    book: Book,
    chooser: BarChooser,
    chance: Option<(u64, Chance)>,
    open: Option<OpenBar>,
    right: Right,
    position: HandPosition,
    /// When it last struck.
    struck: Option<Ticks>,
    /// Until when something that it struck sounds.
    rings: Ticks,
    /// Where the note that leads has promised the next root.
    goal: Option<KeyNumber>,
    /// Whether it has landed, and why: the last root is held, and nothing follows.
    landed: Option<Heard>,
    /// The bar in which it last told a change, the beats of that bar on which it
    /// did, and those of the bar before; bit n is beat n.
    told: (Ticks, u8, u8),
    form: HeardForm,
    /// Which bar of the book each bar of the chart was given.
    given: [u16; MOST_BARS],
    /// How often the bars of the chart's first section strike, and how many there were.
    stated: (u32, u32),
}

impl FreeHand {
    /// A hand that has not played yet, and draws from `book`.
    pub fn new(book: Book) -> Self {
        Self {
            book,
            chooser: BarChooser::new(),
            chance: None,
            open: None,
            right: Right::default(),
            position: HandPosition::default(),
            struck: None,
            rings: SILENT,
            goal: None,
            landed: None,
            told: (Ticks::ZERO, 0, 0),
            form: HeardForm::new(),
            given: [NONE; MOST_BARS],
            stated: (0, 0),
        }
    }

    /// Another chart, another song: nothing comes back. Real-time safe.
    pub fn forget_sections(&mut self) {
        self.given = [NONE; MOST_BARS];
        self.stated = (0, 0);
    }

    /// The book that it draws from.
    pub fn book(&self) -> Book {
        self.book
    }

    /// Whether it plays in `metre`: the book has bars of four quarters, of which those
    /// of most metres are made.
    pub const fn plays_in(metre: Metre) -> bool {
        Fit::fits(metre)
    }

    /// Forgets where it was: a jump, a stop. It keeps its habits. Real-time safe.
    pub fn reset(&mut self) {
        self.open = None;
        self.position = HandPosition::default();
        self.struck = None;
        self.rings = SILENT;
        self.goal = None;
        self.landed = None;
        self.right.last = None;
        self.form.break_off();
    }

    /// When to [`FreeHand::think`]. Real-time safe.
    pub fn thought(&self) -> Option<Ticks> {
        self.form.due()
    }

    /// Does beforehand what has to be known where a bar begins. Real-time safe.
    pub fn think(&mut self) {
        self.form.get_ready();
        if let Some((_, chance)) = &self.chance {
            self.chooser.get_ready(&self.book, chance);
        }
    }

    /// The right hand strikes a key. Real-time safe.
    pub fn hear(&mut self, key: KeyNumber, loudness: u8, at: Ticks, place: Place) {
        // The song's end stays its end, however often its chord is struck.
        self.landed = self.landed.filter(|heard| *heard == Heard::End);
        let right = &mut self.right;
        self.form.hear(key.class(), at, place);
        right.keys = right.keys.wrapping_mul(31).wrapping_add(u64::from(key.number()));
        let loudness = f32::from(loudness);
        right.loudness +=
            (loudness - right.loudness) * if right.last.is_none() { 1.0 } else { 0.01 };
        let line = place.of(at).bar;
        if line != right.line {
            let next = line - right.line == place.metre.bar();
            right.before = if next { right.strokes } else { 0 };
            let [now, before, _] = if next { right.fine } else { [0; 3] };
            right.fine = [0, now, before];
            (right.line, right.strokes) = (line, 0);
        }
        let together = figure::SIXTEENTH.0 / 4;
        if right.last.is_none_or(|last| at - last > Ticks(together)) {
            right.strokes = right.strokes.saturating_add(1);
            right.last = Some(at);
            let fine = u8::from(figure::is_off_the_eighths(at - line));
            right.fine[0] = right.fine[0].saturating_add(fine);
        }
    }

    /// The first slot that sounds strictly after `after`: in the open bar, else
    /// where a bar is to be opened. Real-time safe.
    pub fn next_slot(&self, place: Place, after: Ticks, settings: &Settings) -> SlotAt {
        let here = place.of(after + Ticks(1));
        let open = self.open.as_ref().filter(|open| open.line == here.bar);
        let unopened = |at: Ticks, place| SlotAt { at, grid: at, place, index: UNOPENED };
        let Some(open) = open else {
            // In the midst of a bar: on its next beat.
            let beat = here.metre.pulse().0;
            let into = (after + Ticks(1) - here.bar).0;
            let at = here.bar + Ticks((into + beat - 1) / beat * beat);
            return unopened(at, here.of(at));
        };
        let slots = open.figure.places.iter().enumerate();
        let mut slots = slots.map(|(index, written)| {
            let at = here.bar + swung(written.offset, here.metre, settings.swing);
            SlotAt { at, grid: here.bar + written.offset, place: here, index }
        });
        let line = here.bar + here.metre.bar();
        slots.find(|slot| slot.at > after).unwrap_or_else(|| unopened(line, here.of(line)))
    }

    /// The number of a slot at which only a change is told.
    pub const TOLD: usize = usize::MAX - 1;

    /// A change that the figure leaves out for as long as this is told all the
    /// same. By ear.
    pub const LEAVES_OUT: Ticks = Ticks(Ticks::PER_BEAT);

    /// The slot at which a change at `at` is told that the figure leaves out: the
    /// next eighth. Real-time safe.
    pub fn told(at: Ticks, place: Place, settings: &Settings) -> SlotAt {
        let place = place.of(at);
        let eighth = Ticks::PER_BEAT / 2;
        let into = (at - place.bar).0;
        let offset = Ticks((into + eighth - 1) / eighth * eighth);
        let grid = place.bar + offset;
        let at = place.bar + super::swing::swung(offset, place.metre, settings.swing);
        SlotAt { at, grid, place: place.of(grid), index: Self::TOLD }
    }

    /// What to strike at `slot`; empty is a rest. Remembers it as struck. `end`
    /// is the song's, if the chart's last chord holds. Real-time safe.
    pub fn stroke(
        &mut self,
        slot: SlotAt,
        moment: &Moment,
        end: Option<Landing>,
        pattern: &Pattern,
        settings: &Settings,
    ) -> Stroke {
        let stroke = if let Some(end) = end.or_else(|| self.hears_the_end(slot)) {
            self.land(end, moment, settings)
        } else {
            self.landed = None;
            self.goes_on(slot, moment, pattern, settings)
        };
        self.rings = stroke.iter().map(|note| note.until).fold(self.rings, Ticks::max);
        stroke
    }

    /// What to strike at `slot` while the song goes on.
    fn goes_on(
        &mut self,
        slot: SlotAt,
        moment: &Moment,
        pattern: &Pattern,
        settings: &Settings,
    ) -> Stroke {
        let wanted = moment.starts || self.wants(slot, settings);
        if wanted && !moment.starts && self.lacks_a_tie(slot) {
            return self.root_now(moment, Rule::Marks, settings);
        }
        let offset = slot.grid - slot.place.bar;
        let open = self.open.as_ref().filter(|open| open.line == slot.place.bar);
        let written = open.and_then(|open| open.figure.at(offset)).cloned();
        let Some(written) = written.filter(|_| wanted) else {
            let told = [Self::TOLD, UNOPENED].contains(&slot.index) && moment.starts;
            return if told { self.root_now(moment, Rule::Tells, settings) } else { Stroke::new() };
        };
        if !moment.starts && self.seconds_since(moment) < FASTEST {
            return Stroke::new();
        }
        self.as_in_the_book(&written, slot, moment, pattern, settings)
    }

    /// What stands in the book at `slot`, on the chord that holds.
    fn as_in_the_book(
        &mut self,
        written: &FigurePlace,
        slot: SlotAt,
        moment: &Moment,
        pattern: &Pattern,
        settings: &Settings,
    ) -> Stroke {
        let offset = slot.grid - slot.place.bar;
        let keyboard = PlayableKeys::new(settings, moment.ceiling);
        let top = self.top_from(offset);
        let home = self.home(moment, (written.home, top), keyboard);
        let Some(home) = home else { return Stroke::new() };
        let following = self.following(slot);
        let ahead = Following::of(slot, following, moment.next.as_ref(), settings);
        let last = self.position.last.map_or(home, |(key, _)| key);
        let from = From { moment, pattern, keyboard, last, home };
        let single = written.notes.1 - written.notes.0 == 1;
        let leads = if self.picks_up(slot, following) { 1.0 } else { LEADS };
        let led = if single { self.led(ahead, leads, from) } else { None };
        if moment.starts {
            self.tell(slot.place, offset);
        }
        let tells = moment.starts && self.tells(slot, home);
        // A tone that tells one chord from another needs to know that it holds.
        let holds =
            ahead != Following::Unknown || self.holds_by_habit(slot, following, moment.next);
        // Who wants fewer figures wants the rhythm of the one that there is.
        let keeps = settings.variety < choose::AS_PIANISTS;
        let due = moment.starts || led.is_some() || keeps;
        let what = (moment.chord, (due, tells), holds);
        let mut keys = voicing::keys(&self.book, written, what, (home, self.position), keyboard);
        if let (Some(led), Some(first)) = (led, keys.first().copied()) {
            keys.clear();
            keys.push(StruckKey { key: led.key, role: led.role, ..first });
        }
        self.goal = led.map(|led| led.goal);
        let theirs = self.book.note(written.notes.0).key;
        self.remember((home, written.home), keys.first().map(|key| (key.key, theirs)), moment);
        let rule = match led.map(|led| led.role) {
            Some(Role::Passing) => Rule::Passes,
            Some(_) => Rule::Leads,
            None if moment.starts => Rule::Tells,
            None => Rule::Written,
        };
        self.notes(&keys, self.why(slot.place, rule), moment, settings)
    }

    /// Whether `slot` is the last before a section of the chart, that begins at
    /// `following`: the note that leads there always does.
    fn picks_up(&self, slot: SlotAt, following: Ticks) -> bool {
        let open = self.open.as_ref().filter(|open| open.line == slot.place.bar);
        let last = open.and_then(|open| open.section).is_some_and(|section| section.last);
        last && following >= slot.place.bar + slot.place.metre.bar()
    }

    /// The note that leads to the next chord, if one is due and the hand feels like it,
    /// so often.
    fn led(&mut self, ahead: Following, often: f32, from: From<'_>) -> Option<Led> {
        let Following::Changes { next, passes } = ahead else { return None };
        let (_, chance) = self.chance.as_mut().filter(|_| !from.moment.starts)?;
        let leads = chance.part() < often;
        lead(Wish::Lead, next, passes, from).filter(|_| leads)
    }

    /// Whether a chord that begins at `slot` on `home` is told by its bass, whatever the
    /// figure has there: where the bass moves, on a place that is not too weak.
    fn tells(&self, slot: SlotAt, home: KeyNumber) -> bool {
        let beats = accent::beats(slot.place.metre);
        let moves = self.position.home.is_none_or(|(key, _)| key.class() != home.class());
        moves && accent::level(&beats, slot.grid - slot.place.bar) < WEAK
    }

    /// Strokes of the right hand in the bar at `place` so far, or in the one before,
    /// whichever are more. Real-time safe.
    pub fn right_strokes(&self, place: Place) -> u8 {
        match place.bar - self.right.line {
            Ticks::ZERO => self.right.strokes.max(self.right.before),
            since if since == place.metre.bar() => self.right.strokes,
            _ => 0,
        }
    }

    /// Strokes of the right hand off the eighths in the two bars before the one at `place`.
    fn fine_before(&self, place: Place) -> u8 {
        let [now, before, earlier] = self.right.fine;
        match place.bar - self.right.line {
            Ticks::ZERO => before.saturating_add(earlier),
            since if since == place.metre.bar() => now.saturating_add(before),
            since if since == place.metre.bar() * 2 => now,
            _ => 0,
        }
    }

    /// Strokes of the right hand in the bar before the one at `place`.
    fn right_before(&self, place: Place) -> u8 {
        if self.right.line == place.bar { self.right.before } else { self.right.strokes }
    }

    /// What the open bar is likely to play. Real-time safe.
    pub fn preview(&self, place: Place, settings: &Settings) -> ArrayVec<SlotView, 48> {
        let open = self.open.as_ref().filter(|open| open.line == place.bar);
        let places = open.map_or(&[][..], |open| open.figure.places.as_slice());
        let view = |written: &figure::FigurePlace| SlotView {
            at: place.bar + swung(written.offset, place.metre, settings.swing),
            role: Some(voicing::role(self.book.note(written.notes.0).tone)),
            key: None,
            above: 0,
            played: false,
            ends: [None; 2],
        };
        places.iter().map(view).collect()
    }

    /// Whether the chord is likely to hold from `slot` to `following`, though nothing
    /// surely says so: nothing is foreseen there, and in the bar before it held.
    /// Real-time safe.
    pub fn holds_by_habit(&self, slot: SlotAt, following: Ticks, next: Option<Forecast>) -> bool {
        let line = slot.place.bar;
        let open = self.open.as_ref().filter(|open| open.line == line);
        let Some(open) = open.filter(|_| following < line + slot.place.metre.bar()) else {
            return false;
        };
        let near = Ticks(Ticks::PER_BEAT / 8);
        let beat = open.fit.beat(following - line);
        let foreseen = next.is_some_and(|next| next.at <= following + near);
        !foreseen && open.changes & (1 << beat) == 0
    }

    /// A change was told in the bar at `place`.
    fn tell(&mut self, place: Place, offset: Ticks) {
        let (line, now, _) = self.told;
        if line != place.bar {
            let next = place.bar - line == place.metre.bar();
            self.told = (place.bar, 0, if next { now } else { 0 });
        }
        self.told.1 |= 1 << Fit::of(place.metre, place.number).beat(offset);
    }

    /// Whether the player wants it as busy as to strike here.
    fn wants(&self, slot: SlotAt, settings: &Settings) -> bool {
        let beats = accent::beats(slot.place.metre);
        let level = accent::level(&beats, slot.grid - slot.place.bar);
        level.saturating_mul(12) <= settings.busy
    }

    /// The bass that this chord is played around.
    fn home(&self, moment: &Moment, theirs: (u8, u8), keyboard: PlayableKeys) -> Option<KeyNumber> {
        let class = moment.chord.bass;
        let fits = |key: &KeyNumber| key.class() == class && keyboard.has(*key);
        let stays = self.position.home.map(|(key, _)| key).filter(|_| !moment.starts);
        let promised = self.goal.filter(|_| moment.starts);
        let known = promised.or(stays).filter(fits);
        known.or_else(|| voicing::home(moment.chord, theirs, self.position, keyboard))
    }

    /// The highest key of the open bar's figure from `offset` on.
    fn top_from(&self, offset: Ticks) -> u8 {
        let places = self.open.as_ref().map_or(&[][..], |open| open.figure.places.as_slice());
        let notes = places.iter().filter(|place| place.offset >= offset);
        let keys = notes.flat_map(|place| place.notes.0..place.notes.1);
        keys.map(|note| self.book.note(note).key).max().unwrap_or(0)
    }

    /// When the figure strikes next after `slot`.
    fn following(&self, slot: SlotAt) -> Ticks {
        let line = slot.place.bar;
        let open = self.open.as_ref().filter(|open| open.line == line);
        let next = open.and_then(|open| open.figure.after(slot.grid - line));
        line + next.map_or(slot.place.metre.bar(), |next| next.offset)
    }

    fn remember(&mut self, home: (KeyNumber, u8), last: Option<(KeyNumber, u8)>, moment: &Moment) {
        self.position.home = Some(home);
        if last.is_some() {
            self.position.last = last;
            self.struck = Some(moment.at);
        }
    }

    fn seconds_since(&self, moment: &Moment) -> f64 {
        let since = |at: Ticks| (moment.at - at).beats() * 60.0 / moment.tempo.max(1.0);
        self.struck.map_or(f64::INFINITY, since)
    }
}

/// Where a place of the bar sounds, with the "and" at `swing` of its beat; eighths that
/// are counted do not swing.
fn swung(offset: Ticks, metre: Metre, swing: f32) -> Ticks {
    if metre.unit() > 4 {
        return offset;
    }
    let beat = Ticks(offset.0 / Ticks::PER_BEAT * Ticks::PER_BEAT);
    super::slot::swung(offset, (beat, Ticks(Ticks::PER_BEAT)), swing)
}
