//! The free hand: what a pianist's left hand improvises.
//!
//! Bar by bar it goes on in the song of the book of bars that it is in, or
//! moves to a bar that was played in surroundings like these; each place of the
//! bar is struck on the tones of the chord that holds now.

pub mod book;
mod chance;
mod choose;
mod figure;
mod fit;
mod voicing;

pub use book::Book;

use super::ahead::Following;
use super::lead::{From, lead};
use super::reach::{self, PlayableKeys};
use super::why::{FigureOf, Heard, Rule, Why};
use super::{Moment, Note, Pattern, Role, SlotAt, SlotView, Stroke, Voice, Wish, accent};
use crate::chord::Chord;
use crate::foresee::Forecast;
use crate::pitch::{KeyNumber, PitchClass};
use crate::settings::Settings;
use crate::time::{Metre, Place, Ticks};
use arrayvec::ArrayVec;
pub use chance::Chance;
use choose::{BarChooser, Surroundings, struck};
use figure::Figure;
use fit::Fit;
use voicing::{HandPosition, Keys, StruckKey};

/// The number of a slot at which a bar is opened: what it holds is not known
/// before.
const UNOPENED: usize = usize::MAX;

/// The most bars of a chart whose sections get their figures back.
const MOST_BARS: usize = 512;

/// A bar of a chart that was given none yet.
const NONE: u16 = u16::MAX;

/// How long the last root is held where no chart says when the song ends, in
/// bars.
const LANDS: i64 = 2;

/// Bars in a phrase. Common practice.
const PHRASE: i64 = 4;

/// From here on a change is looked forward to.
const LIKELY: f32 = 0.5;

/// How often a note leads where one can. The chord's fifth is the last note in
/// 39 % of the changes of POP909-CL where it is the next root.
const LEADS: f32 = 0.4;

/// How loud pianists' left hands are beside their right: the song's mean, and
/// what the bar adds to it (POP909-CL, velocity; correlation over songs .90,
/// over the bars of a song .48).
const LOUD: (f32, f32, f32) = (8.5, 0.77, 0.5);

/// The shortest time between two strokes of a figure, in seconds: a figure lies
/// in the hand, and is played faster than what is thought of note by note
/// (eleven tones a second, the middle of Goebl & Palmer's, see [`reach`]).
const FASTEST: f64 = 0.09;

/// How soon after each other the notes of a stroke are struck that is wider than the
/// hand, in milliseconds, and the most of a sixteenth that all of it takes: the rhythm
/// stays. By ear.
const ROLL: (f64, f64) = (35.0, 0.3);

/// From this level of accent on a place is too weak for a root that the figure
/// does not have there to be worth more than the figure: off the beat.
const WEAK: u8 = 3;

/// The setting of loudness at which the left hand is as loud as pianists'.
const USUAL_LOUDNESS: f32 = 0.85;

/// The setting of length at which notes are as long as pianists'.
const USUAL_LENGTH: f32 = 0.9;

/// Until when the last root is held, and why the hand lands.
pub type Landing = (Ticks, Heard);

/// A bar that is open.
#[derive(Clone, Debug, PartialEq)]
struct OpenBar {
    /// Its bar line.
    line: Ticks,
    /// Its number in the book.
    bar: u16,
    /// On which beats the chord is likely to change; bit n is beat n.
    changes: u8,
    /// How bars of the book are played in its metre.
    fit: Fit,
    /// What it was chosen by.
    heard: Heard,
    figure: Figure,
}

/// What the right hand has done in this bar and the one before.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
struct Right {
    /// The bar line.
    line: Ticks,
    strokes: u8,
    before: u8,
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
    /// Where the note that leads has promised the next root.
    goal: Option<KeyNumber>,
    /// Whether it has landed, and why: the last root is held, and nothing follows.
    landed: Option<Heard>,
    /// The bar in which it last told a change, the beats of that bar on which it
    /// did, and those of the bar before; bit n is beat n.
    told: (Ticks, u8, u8),
    /// Which bar of the book each bar of the chart was given.
    given: [u16; MOST_BARS],
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
            goal: None,
            landed: None,
            told: (Ticks::ZERO, 0, 0),
            given: [NONE; MOST_BARS],
        }
    }

    /// Another chart, another song: nothing comes back. Real-time safe.
    pub fn forget_sections(&mut self) {
        self.given = [NONE; MOST_BARS];
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
        self.goal = None;
        self.landed = None;
        self.right.last = None;
    }

    /// The right hand strikes a key. Real-time safe.
    pub fn hear(&mut self, key: KeyNumber, loudness: u8, at: Ticks, place: Place) {
        // The song's end stays its end, however often its chord is struck.
        self.landed = self.landed.filter(|heard| *heard == Heard::End);
        let right = &mut self.right;
        right.keys = right.keys.wrapping_mul(31).wrapping_add(u64::from(key.number()));
        let loudness = f32::from(loudness);
        right.loudness +=
            (loudness - right.loudness) * if right.last.is_none() { 1.0 } else { 0.01 };
        let line = place.of(at).bar;
        if line != right.line {
            let next = line - right.line == place.metre.bar();
            right.before = if next { right.strokes } else { 0 };
            (right.line, right.strokes) = (line, 0);
        }
        let together = figure::SIXTEENTH.0 / 4;
        if right.last.is_none_or(|last| at - last > Ticks(together)) {
            right.strokes = right.strokes.saturating_add(1);
            right.last = Some(at);
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

    /// Opens the bar that `slot` is the first of, if it is not open yet: the chord
    /// struck last, and the next one. With a chart: which of its bars that is, and
    /// which one it repeats. Real-time safe.
    pub fn turn_to(
        &mut self,
        slot: SlotAt,
        chart: Option<(usize, usize)>,
        (chord, next): (Option<Chord>, Option<Forecast>),
        tempo: f64,
        settings: &Settings,
    ) {
        // What it is like depends on what it has heard.
        if slot.index != UNOPENED || self.right.last.is_none() {
            return;
        }
        let place = slot.place;
        let fit = Fit::of(place.metre, place.number);
        let (changes, bass) = self.outlook(place, &fit, chord, next);
        let (seed, chance) = self.chance.get_or_insert_with(|| {
            let mut chance = Chance::new(settings.seed);
            chance.stir(self.right.keys);
            (settings.seed, chance)
        });
        if *seed != settings.seed {
            *seed = settings.seed;
            *chance = Chance::new(settings.seed);
            chance.stir(self.right.keys);
            self.chooser = BarChooser::new();
            self.given = [NONE; MOST_BARS];
        }
        let before = self.open.as_ref().filter(|open| open.line + place.metre.bar() == place.bar);
        let this_bar = self.right.line == place.bar;
        let around = Surroundings {
            right: fit.in_the_book(if this_bar { self.right.before } else { self.right.strokes }),
            ours: before.map_or(0, |open| struck(&self.book, open.bar)),
            changes,
            bass,
            more: (f32::from(settings.busy) - 50.0) / 12.0,
            phrase: place.number.rem_euclid(PHRASE) == 0,
            tempo: tempo as f32,
        };
        // A section that comes back gets its figures back.
        let known =
            chart.and_then(|(bar, first)| self.given.get(if bar > first { first } else { bar }));
        let known = known.copied().filter(|given| *given != NONE);
        let same = before.filter(|open| fit.goes_on() && !open.fit.goes_on());
        let (chosen, heard) = match (known, same) {
            (Some(bar), _) => (self.chooser.recall(&self.book, bar), Heard::Section),
            (None, Some(open)) => (Some(open.bar), Heard::GoesOn),
            (None, None) => self.chooser.next(&self.book, &around, chance),
        };
        self.chooser.pass(&self.book, fit.bars());
        if let Some(bar) = chosen.filter(|_| heard != Heard::GoesOn) {
            self.approach(bar);
        }
        if let (Some((bar, _)), Some(chosen)) = (chart, chosen)
            && let Some(given) = self.given.get_mut(bar)
        {
            *given = chosen;
        }
        self.open = chosen.map(|bar| OpenBar {
            line: place.bar,
            bar,
            changes,
            heard,
            figure: Figure::open(&self.book, bar, &fit),
            fit: fit.clone(),
        });
    }

    /// What comes before another bar is, for what its pianist did, what came before it
    /// in the book: so it is come to as they came to it.
    fn approach(&mut self, bar: u16) {
        let Some(before) = bar.checked_sub(1) else { return };
        let (from, end) = self.book.bar(before).notes;
        let Some(last) = end.checked_sub(1).filter(|last| *last >= from) else { return };
        let last = self.book.note(last);
        let struck = (from..end).map(|note| self.book.note(note));
        let lowest = struck.filter(|note| note.sixteenth == last.sixteenth).map(|note| note.key);
        if let (Some((_, theirs)), Some(lowest)) = (&mut self.position.last, lowest.min()) {
            *theirs = lowest;
        }
        if let Some((_, theirs)) = &mut self.position.home {
            *theirs = self.book.bar(before).home;
        }
    }

    /// On which beats of the bar the chord is likely to change, as it did in the
    /// bar before unless more is known, and the bass that it begins with.
    fn outlook(
        &self,
        place: Place,
        fit: &Fit,
        chord: Option<Chord>,
        next: Option<Forecast>,
    ) -> (u8, Option<PitchClass>) {
        let (line, now, before) = self.told;
        let bar = place.metre.bar();
        let habit = match place.bar - line {
            Ticks::ZERO => before,
            since if since == bar => now,
            _ => 1,
        };
        let eighth = Ticks(Ticks::PER_BEAT / 2);
        let sure = next.filter(|next| next.when_certainty >= LIKELY && next.at < place.bar + bar);
        let Some(next) = sure else { return (habit, chord.map(|chord| chord.bass)) };
        let beat = fit.beat(next.at - place.bar);
        let first = next.at < place.bar + eighth;
        // Nothing changes before it; after it, as before.
        let later = habit & !(u8::MAX >> (7 - beat));
        let bass = if first { Some(next.chord.bass) } else { chord.map(|chord| chord.bass) };
        (1 << beat | later, bass)
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
        if let Some(end) = end.or_else(|| self.hears_the_end(slot)) {
            return self.land(end, moment, settings);
        }
        self.landed = None;
        let offset = slot.grid - slot.place.bar;
        let open = self.open.as_ref().filter(|open| open.line == slot.place.bar);
        let written = open.and_then(|open| open.figure.at(offset)).cloned();
        let Some(written) = written.filter(|_| moment.starts || self.wants(slot, settings)) else {
            let told = [Self::TOLD, UNOPENED].contains(&slot.index) && moment.starts;
            return if told { self.root_now(moment, settings) } else { Stroke::new() };
        };
        if !moment.starts && self.seconds_since(moment) < FASTEST {
            return Stroke::new();
        }
        let keyboard = PlayableKeys::new(settings, moment.ceiling);
        let top = self.top_from(offset);
        let home = self.home(moment, (written.home, top), keyboard);
        let Some(home) = home else { return Stroke::new() };
        let following = self.following(slot);
        let ahead = Following::of(slot, following, moment.next.as_ref(), settings);
        let led = match ahead {
            Following::Changes(next)
                if !moment.starts && written.notes.1 - written.notes.0 == 1 =>
            {
                let last = self.position.last.map_or(home, |(key, _)| key);
                let from = From { moment, pattern, keyboard, last, home };
                let leads = self.chance.as_mut().is_some_and(|(_, c)| c.part() < LEADS);
                lead(Wish::Lead, next, from).filter(|_| leads)
            }
            _ => None,
        };
        if moment.starts {
            self.tell(slot.place, offset);
        }
        let beats = accent::beats(slot.place.metre);
        let moves = self.position.home.is_none_or(|(key, _)| key.class() != home.class());
        let tells = moment.starts && moves && accent::level(&beats, offset) < WEAK;
        // A tone that tells one chord from another needs to know that it holds.
        let holds = ahead != Following::Unknown || self.holds_by_habit(slot, following, moment);
        let what = (moment.chord, tells, holds);
        let mut keys = voicing::keys(&self.book, &written, what, (home, self.position), keyboard);
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

    /// Until when the last root is held, if the right hand has held what it holds
    /// for more than a bar: a fermata, or the end.
    pub fn hears_the_end(&self, slot: SlotAt) -> Option<Landing> {
        let bar = slot.place.metre.bar();
        let short = bar < Ticks(3 * Ticks::PER_BEAT) && !slot.place.metre.is_compound();
        let bar = if short { bar + bar } else { bar };
        let rests = self.right.last.is_some_and(|last| slot.grid - last >= bar);
        rests.then(|| (slot.place.bar + Ticks(LANDS * bar.0), Heard::Held))
    }

    /// Lands on the root and holds it; once landed, it rests.
    fn land(&mut self, end: Landing, moment: &Moment, settings: &Settings) -> Stroke {
        if self.has_landed() && !moment.starts {
            return Stroke::new();
        }
        let stroke = self.root_now(moment, settings);
        self.landed(stroke, end)
    }

    /// Whether it has landed, and rests. Real-time safe.
    pub fn has_landed(&self) -> bool {
        self.landed.is_some()
    }

    /// A stroke that lands: it is held to the end. Real-time safe.
    pub fn landed(&mut self, mut stroke: Stroke, (end, heard): Landing) -> Stroke {
        for note in &mut stroke {
            note.until = note.until.max(end);
            note.why = Why { rule: Rule::Lands, heard, ..note.why };
        }
        self.landed = Some(heard);
        stroke
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

    /// The root (or slash bass) at once, off the figure. Real-time safe.
    fn root_now(&mut self, moment: &Moment, settings: &Settings) -> Stroke {
        let keyboard = PlayableKeys::new(settings, moment.ceiling);
        let theirs = self.position.home.map_or(reach::MIDDLE.number(), |(_, theirs)| theirs);
        let moment = &Moment { starts: true, ..*moment };
        let home = self.home(moment, (theirs, theirs), keyboard);
        let Some(home) = home else { return Stroke::new() };
        let role = if moment.chord.bass == moment.chord.root { Role::Root } else { Role::Bass };
        let here = moment.place.of(moment.at);
        let slot = SlotAt { at: moment.at, grid: moment.at, place: here, index: UNOPENED };
        let length = self.following(slot) - moment.at;
        let mut keys = Keys::new();
        keys.push(StruckKey { key: home, role, length, push: 0.0 });
        self.goal = None;
        self.remember((home, theirs), Some((home, theirs)), moment);
        self.notes(&keys, self.why(here, Rule::Tells), moment, settings)
    }

    /// What the open bar is likely to play. Real-time safe.
    pub fn preview(&self, place: Place, settings: &Settings) -> ArrayVec<SlotView, 48> {
        let open = self.open.as_ref().filter(|open| open.line == place.bar);
        let places = open.map_or(&[][..], |open| open.figure.places.as_slice());
        let view = |written: &figure::FigurePlace| SlotView {
            at: place.bar + swung(written.offset, place.metre, settings.swing),
            role: Some(voicing::role(self.book.note(written.notes.0).tone)),
            key: None,
            played: false,
        };
        places.iter().map(view).collect()
    }

    /// Whether the chord is likely to hold from `slot` to `following`, though nothing
    /// surely says so: nothing is foreseen there, and in the bar before it held.
    fn holds_by_habit(&self, slot: SlotAt, following: Ticks, moment: &Moment) -> bool {
        let line = slot.place.bar;
        let open = self.open.as_ref().filter(|open| open.line == line);
        let Some(open) = open.filter(|_| following < line + slot.place.metre.bar()) else {
            return false;
        };
        let near = Ticks(Ticks::PER_BEAT / 8);
        let beat = open.fit.beat(following - line);
        let foreseen = moment.next.is_some_and(|next| next.at <= following + near);
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

    /// Why a stroke in the bar at `place` is struck.
    fn why(&self, place: Place, rule: Rule) -> Why {
        let open = self.open.as_ref().filter(|open| open.line == place.bar);
        let (bar, heard) = open.map_or((0, Heard::Beginning), |open| (open.bar, open.heard));
        Why { figure: FigureOf::Book(bar), rule, heard, rolled: false }
    }

    /// The keys as notes: as loud as pianists beside such a right hand, and as
    /// long as theirs, but no longer than the chord if that surely changes.
    fn notes(&self, keys: &Keys, why: Why, moment: &Moment, settings: &Settings) -> Stroke {
        let (base, song, bar) = LOUD;
        let now = f32::from(moment.loudness);
        let asked = base + song * self.right.loudness + bar * (now - self.right.loudness);
        let longer = f64::from(settings.length.clamp(0.05, 1.0) / USUAL_LENGTH);
        let change = moment.next.filter(|next| {
            next.certainty.min(next.when_certainty) >= settings.certainty && next.at > moment.at
        });
        let ends = keys.first().zip(keys.last());
        let span = ends.map_or(0, |(low, high)| high.key.distance(low.key).0);
        let rolled = span > i32::from(settings.reach);
        let most = ROLL.1 * figure::SIXTEENTH.0 as f64 / keys.len().max(1) as f64;
        let step = if rolled {
            Ticks::of_ms(ROLL.0, moment.tempo).min(Ticks(most as i64))
        } else {
            Ticks::ZERO
        };
        let why = Why { rolled, ..why };
        let note = |(index, key): (usize, &StruckKey)| {
            let from = moment.at + Ticks(step.0 * index as i64);
            let held = Ticks(((key.length.0 as f64 * longer) as i64).max(1));
            let wrong = change.filter(|next| !belongs(key.key, next.chord));
            let until = (moment.at + held).min(wrong.map_or(Ticks(i64::MAX), |next| next.at));
            let velocity = (asked + key.push) * settings.loudness / USUAL_LOUDNESS;
            let velocity = libm::roundf(velocity).clamp(1.0, 127.0) as u8;
            Note {
                key: key.key,
                velocity,
                role: key.role,
                voice: Voice::Bass,
                from,
                until: until.max(from + Ticks(1)),
                why,
            }
        };
        keys.iter().enumerate().map(note).collect()
    }
}

/// Whether `key` is a tone of `chord`, or its bass.
pub fn belongs(key: KeyNumber, chord: Chord) -> bool {
    chord.tones().has(key.class()) || key.class() == chord.bass
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
