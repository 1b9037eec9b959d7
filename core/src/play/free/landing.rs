//! The last root, held; and a root at once, off the figure.

use super::choose::is_held_into;
use super::figure::SIXTEENTH;
use super::open::OpenBar;
use super::voicing::{Keys, StruckKey};
use super::{FreeHand, UNOPENED};
use crate::play::reach::{self, PlayableKeys};
use crate::play::why::{Heard, Rule, Why};
use crate::play::{Moment, Role, SlotAt, Stroke};
use crate::settings::Settings;
use crate::time::Ticks;

/// How long the last root is held where no chart says when the song ends, in
/// bars.
const LANDS: i64 = 2;

/// Until when the last root is held, and why the hand lands.
pub type Landing = (Ticks, Heard);

impl FreeHand {
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
    pub(super) fn land(&mut self, end: Landing, moment: &Moment, settings: &Settings) -> Stroke {
        if self.has_landed() && !moment.starts {
            return Stroke::new();
        }
        let stroke = self.root_now(moment, Rule::Tells, settings);
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

    /// Whether a bar begins at `slot` into which the pianist held what our hand has not
    /// struck, or holds no longer.
    pub(super) fn lacks_a_tie(&self, slot: SlotAt) -> bool {
        let open = self.open.as_ref().filter(|open| open.line == slot.grid);
        let tied = |open: &OpenBar| {
            let begins = !open.fit.goes_on() && open.figure.at(Ticks::ZERO).is_none();
            begins && is_held_into(&self.book, open.bar)
        };
        open.is_some_and(tied) && self.rings <= slot.at + SIXTEENTH
    }

    /// The root (or slash bass) at once, off the figure. Real-time safe.
    pub(super) fn root_now(&mut self, moment: &Moment, rule: Rule, settings: &Settings) -> Stroke {
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
        self.notes(&keys, self.why(here, rule), moment, settings)
    }
}

#[cfg(test)]
mod tests {
    use super::super::book::{Book, Noted};
    use super::super::figure::Figure;
    use super::super::fit::Fit;
    use super::*;
    use crate::chord::{Chord, Kind};
    use crate::key::Key;
    use crate::pitch::{KeyNumber, PitchClass};
    use crate::play::Pattern;
    use crate::time::{Metre, Place};

    /// Whether the pianist held a note of the bar before for more than a sixteenth of
    /// `bar`, and struck nothing on its first beat.
    fn begins_with_a_tie(book: &Book, bar: u16) -> bool {
        let notes = |bar: u16| {
            let (from, end) = book.bar(bar).notes;
            let book = *book;
            (from..end).map(move |note| book.note(note))
        };
        let sixteenths = |n: Noted| f32::from(n.sixteenth) + f32::from(n.length) / 6.0;
        let held = bar > 0 && notes(bar - 1).any(|note| sixteenths(note) > 17.0);
        held && notes(bar).all(|note| note.sixteenth > 0)
    }

    /// A hand that has come to that bar of the book, and its first beat, on C.
    fn at_bar(bar: u16) -> (FreeHand, SlotAt, Moment) {
        let (book, place) = (Book::shipped(), Place::first(Metre::COMMON));
        let fit = Fit::of(Metre::COMMON, 0);
        let figure = Figure::open(&book, bar, &fit);
        let mut hand = FreeHand::new(book);
        let open = OpenBar {
            line: place.bar,
            bar,
            changes: 0,
            fit,
            heard: Heard::Phrase,
            section: None,
            figure,
        };
        hand.open = Some(open);
        let slot = SlotAt { at: place.bar, grid: place.bar, place, index: UNOPENED };
        let moment = Moment {
            at: place.bar,
            place,
            chord: Chord::new(PitchClass::C, Kind::Major),
            first: PitchClass::C,
            starts: false,
            next: None,
            key: Key::C_MAJOR,
            ceiling: KeyNumber::MIDDLE_C,
            loudness: 70,
            tempo: 96.0,
        };
        (hand, slot, moment)
    }

    #[test]
    fn what_a_pianist_holds_over_the_bar_line_is_no_hole_in_ours() {
        let (book, settings) = (Book::shipped(), Settings::default());
        let (_, end) = book.song(book.songs() - 1);
        let pattern = Pattern::default_boxed();
        let mut tied = 0;
        for bar in (0..end).step_by(7) {
            let (mut hand, slot, moment) = at_bar(bar);
            let ties = begins_with_a_tie(&book, bar);
            assert_eq!(hand.lacks_a_tie(slot), ties, "bar {bar}");
            // While ours sounds, nothing is lacking.
            hand.rings = slot.at + SIXTEENTH + Ticks(1);
            assert!(!hand.lacks_a_tie(slot), "bar {bar}");
            hand.rings = slot.at;
            if ties {
                tied += 1;
                let stroke = hand.stroke(slot, &moment, None, &pattern, &settings);
                let [note] = stroke.as_slice() else { unreachable!("{stroke:?}") };
                let said = (note.key.class(), note.why.rule);
                assert_eq!(said, (PitchClass::C, Rule::Marks), "bar {bar}");
                assert_eq!(hand.rings, note.until, "bar {bar}");
            }
        }
        assert!(tied > 50, "{tied} bars begin with a tie");
    }
}
