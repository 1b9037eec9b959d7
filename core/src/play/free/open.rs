//! A bar is opened: which bar of the book it is, and by what it was chosen.

use super::choose::{BarChooser, Finest, Surroundings, struck};
use super::figure::Figure;
use super::fit::Fit;
use super::{FreeHand, MOST_BARS, NONE, UNOPENED};
use crate::chance::Chance;
use crate::chord::Chord;
use crate::foresee::{Forecast, Song};
use crate::maths;
use crate::pitch::PitchClass;
use crate::play::SlotAt;
use crate::play::pattern::PHRASE;
use crate::play::why::Heard;
use crate::settings::Settings;
use crate::time::{Place, Ticks};

/// From here on a change is looked forward to.
const LIKELY: f32 = 0.5;

/// A bar that is open.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct OpenBar {
    /// Its bar line.
    pub(super) line: Ticks,
    /// Its number in the book.
    pub(super) bar: u16,
    /// On which beats the chord is likely to change; bit n is beat n.
    pub(super) changes: u8,
    /// How bars of the book are played in its metre.
    pub(super) fit: Fit,
    /// What it was chosen by.
    pub(super) heard: Heard,
    pub(super) figure: Figure,
}

impl FreeHand {
    /// Opens the bar that `slot` is the first of, if it is not open yet: the chord
    /// struck last, and the next one; `chart` if it is played by its bars.
    /// Real-time safe.
    pub fn turn_to(
        &mut self,
        slot: SlotAt,
        chart: Option<&Song>,
        (chord, next): (Option<Chord>, Option<Forecast>),
        tempo: f64,
        settings: &Settings,
    ) {
        self.form.turn_to(slot.place);
        // What it is like depends on what it has heard.
        if slot.index != UNOPENED || self.right.last.is_none() {
            return;
        }
        let place = slot.place;
        let fit = Fit::of(place.metre, place.number);
        self.seed(settings.seed);
        let line = place.bar - place.metre.bar();
        let before = self.open.as_ref().filter(|open| open.line == line);
        let goes_on = before.filter(|open| fit.goes_on() && !open.fit.goes_on());
        let goes_on = goes_on.map(|open| open.bar);
        let struck = before.map_or(0, |open| struck(&self.book, open.bar));
        let (changes, bass) = self.outlook(place, &fit, chord, next);
        let around = Surroundings {
            right: fit.in_the_book(self.right_before(place)),
            finest: Finest::heard(self.fine_before(place)),
            ours: struck,
            changes,
            bass,
            more: (f32::from(settings.busy) - 50.0) / 12.0,
            variety: settings.variety,
            phrase: place.number.rem_euclid(PHRASE) == 0,
            tempo: maths::single(tempo),
        };
        let (chosen, heard) = match (self.comes_back(place, chart), goes_on, &mut self.chance) {
            (Some(bar), ..) => (self.chooser.recall(&self.book, bar), Heard::Section),
            (_, Some(bar), _) => (Some(bar), Heard::GoesOn),
            (.., Some((_, chance))) => self.chooser.next(&self.book, &around, chance),
            (.., None) => (None, Heard::Beginning),
        };
        self.chooser.pass(&self.book, fit.bars());
        if let Some(bar) = chosen.filter(|_| heard != Heard::GoesOn) {
            self.approach(bar);
        }
        let number = chart.map(|song| song.bar_and_first(place.bar).0);
        if let (Some(number), Some(chosen)) = (number, chosen)
            && let Some(given) = self.given.get_mut(number)
        {
            *given = chosen;
        }
        self.open = chosen.map(|bar| OpenBar {
            line: place.bar,
            bar,
            changes,
            heard,
            figure: Figure::open(&self.book, bar, &fit),
            fit,
        });
    }

    /// Draws by that seed, and by what was heard first.
    fn seed(&mut self, seed: u64) {
        if self.chance.as_ref().is_some_and(|(drawn, _)| *drawn == seed) {
            return;
        }
        if self.chance.is_some() {
            self.chooser = BarChooser::new();
            self.given = [NONE; MOST_BARS];
        }
        let mut chance = Chance::new(seed);
        chance.stir(self.right.keys);
        self.chance = Some((seed, chance));
    }

    /// The bar of the book that the one at `place` was given when it was played before:
    /// a section of the chart that comes back gets its figures back. One that is only
    /// heard does not (why not: the book's card), but it does in a style.
    fn comes_back(&self, place: Place, chart: Option<&Song>) -> Option<u16> {
        let (_, first) = chart?.bar_and_first(place.bar);
        self.given.get(first).copied().filter(|given| *given != NONE)
    }

    /// Which bar of the chart, or of the form that is heard, the one at `place` is (the
    /// open one or the next), and the bar that it repeats: itself where it is new.
    /// Real-time safe.
    pub fn section(&self, place: Place, chart: Option<&Song>) -> (usize, usize) {
        match chart {
            Some(song) => song.bar_and_first(place.bar),
            None => self.form.bar_and_first(place),
        }
    }

    /// What comes before another bar is, for what its pianist did, what came before it
    /// in the book: so it is come to as they came to it.
    pub(super) fn approach(&mut self, bar: u16) {
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
    pub(super) fn outlook(
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
}
