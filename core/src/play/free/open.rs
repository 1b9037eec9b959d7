//! A bar is opened: which bar of the book it is, and by what it was chosen.

use super::choose::{BarChooser, Finest, FormAsks, Surroundings, struck};
use super::figure::Figure;
use super::fit::Fit;
use super::{FreeHand, NONE, UNOPENED};
use crate::chance::Chance;
use crate::chord::Chord;
use crate::foresee::{Forecast, SectionBar, Song};
use crate::maths;
use crate::pitch::PitchClass;
use crate::play::SlotAt;
use crate::play::phrase::PHRASE;
use crate::play::why::Heard;
use crate::settings::Settings;
use crate::time::{Place, Ticks};

/// From here on a change is looked forward to.
const LIKELY: f32 = 0.5;

/// How many strokes a bar more a new section has than the one before it, how many more
/// than the first at most, and how many the bar before a section. By ear.
const THICKER: f32 = 2.0;
const THICKEST: f32 = 4.0;
const LEADS_IN: f32 = 1.0;

/// How often the bar before a new section rests after its first beat, rather than to lead
/// into it. By ear.
const BREAKS_OFF: f32 = 0.25;

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
    /// Where it stands in its section, where a chart says so.
    pub(super) section: Option<SectionBar>,
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
        let ours = before.map_or(0, |open| struck(&self.book, open.bar));
        let (changes, bass) = self.outlook(place, &fit, chord, next);
        let section = chart.and_then(|song| song.section_at(place.bar));
        let breaks_off = breaks_off(place, chart, settings.seed);
        // What rests before a section does not lead into it.
        let section = section.map(|at| SectionBar { last: at.last && !breaks_off, ..at });
        let in_section = section.map_or(place.number, |section| section.bar.into());
        let around = Surroundings {
            right: fit.in_the_book(self.right_before(place)),
            finest: Finest::heard(self.fine_before(place)),
            ours,
            changes,
            bass,
            more: (f32::from(settings.busy) - 50.0) / 12.0,
            variety: settings.variety,
            phrase: in_section.rem_euclid(PHRASE) == 0,
            form: self.form_asks(section),
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
        if let (Some(bar), Some(song)) = (chosen, chart) {
            self.give(bar, song.bar_and_first(place.bar).0, section);
        }
        let heard = if breaks_off { Heard::Entry } else { heard };
        self.open = chosen.map(|bar| {
            let mut figure = Figure::open(&self.book, bar, &fit);
            if breaks_off {
                figure.break_off(place.metre.pulse());
            }
            OpenBar { line: place.bar, bar, changes, heard, section, figure, fit }
        });
    }

    /// The bar of the chart with that number is given `bar` of the book.
    fn give(&mut self, bar: u16, number: usize, section: Option<SectionBar>) {
        if let Some(given) = self.given.get_mut(number) {
            *given = bar;
        }
        if section.is_some_and(|section| section.section == 0) {
            let (strokes, bars) = self.stated;
            self.stated = (strokes + struck(&self.book, bar).count_ones(), bars + 1);
        }
    }

    /// What the place in a section asks for: a new section is thicker than the one before
    /// it, the bar that leads into one as well, and that has a pick-up.
    fn form_asks(&self, section: Option<SectionBar>) -> FormAsks {
        let (strokes, bars) = self.stated;
        let Some(section) = section.filter(|_| bars > 0) else { return FormAsks::default() };
        let leads = if section.last { LEADS_IN } else { 0.0 };
        let more = (THICKER * section.section as f32).min(THICKEST) + leads;
        let strokes = (more > 0.0).then(|| strokes as f32 / bars as f32 + more);
        FormAsks { strokes, pick_up: section.last }
    }

    /// Draws by that seed, and by what was heard first.
    fn seed(&mut self, seed: u64) {
        if self.chance.as_ref().is_some_and(|(drawn, _)| *drawn == seed) {
            return;
        }
        if self.chance.is_some() {
            self.chooser = BarChooser::new();
            self.forget_sections();
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

/// Whether the bar at `place` breaks off after its first beat: now and then before a
/// section that is new, by the seed, and before that section always; not before the
/// song's last chord.
fn breaks_off(place: Place, chart: Option<&Song>, seed: u64) -> bool {
    let Some(chart) = chart else { return false };
    let line = place.bar + place.metre.bar();
    let (now, next) = (chart.section_at(place.bar), chart.section_at(line));
    let enters = now.zip(next).filter(|(now, next)| now.last && next.section > now.section);
    let ends = || chart.last_chord().is_some_and(|(begins, _)| begins <= line);
    enters.filter(|_| !ends()).is_some_and(|(_, next)| {
        let mut chance = Chance::new(seed);
        chance.stir(u64::from(next.section));
        chance.part() < BREAKS_OFF
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chord::Kind;
    use crate::play::free::Book;
    use crate::time::Metre;

    #[test]
    fn another_chart_gets_no_figures_of_the_one_before() {
        let chord = Chord::new(PitchClass::C, Kind::Major);
        let song = Song::in_common_time([(Ticks::ZERO, Some(chord))], 8).expect("a chart");
        let third = Place::first(Metre::COMMON).of(Metre::COMMON.bar() * 2);
        let mut hand = FreeHand::new(Book::shipped());
        assert_eq!(hand.comes_back(third, Some(&song)), None);
        let bar = song.bar_and_first(third.bar).1;
        hand.give(7, bar, None);
        assert_eq!(hand.comes_back(third, Some(&song)), Some(7));
        hand.forget_sections();
        assert_eq!(hand.comes_back(third, Some(&song)), None);
    }

    #[test]
    fn chords_are_likely_to_change_where_they_did_in_the_bar_before() {
        let bar = |number: i64| Place::first(Metre::COMMON).of(Metre::COMMON.bar() * number);
        let mut hand = FreeHand::new(Book::shipped());
        let changes = |hand: &FreeHand, number: i64| {
            let (place, fit) = (bar(number), Fit::of(Metre::COMMON, number));
            hand.outlook(place, &fit, None, None).0
        };
        for beat in [0, 2] {
            hand.tell(bar(3), Ticks(beat * Ticks::PER_BEAT));
        }
        assert_eq!([4, 5].map(|n| changes(&hand, n)), [0b101, 0b1], "on its line by itself");
        // The bar's own first change takes nothing from what is known of it.
        hand.tell(bar(4), Ticks::ZERO);
        assert_eq!([4, 5].map(|n| changes(&hand, n)), [0b101, 0b1]);
        hand.tell(bar(7), Ticks::ZERO);
        assert_eq!(changes(&hand, 7), 0, "nothing was told in the bar before");
    }
}
