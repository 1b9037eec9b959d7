//! The two ways to play a left hand: as the pattern is written, or improvised.

use super::belief::Belief;
use super::program::Program;
use crate::belief::begin::Begin;
use crate::chord::Chord;
use crate::hear::Hearing;
use crate::pitch::{KeyNumber, PitchClass};
use crate::play::free::Book;
use crate::play::free::Landing;
use crate::play::{FreeHand, Heard, LeftHand, Moment, Note, Role, SlotAt, Stroke};
use crate::time::{Place, Ticks};

/// A note of the pattern that is so much likelier foreign than what a chord
/// begins with gives way to that.
const RISK: f32 = 0.25;

/// Where our hand is, and what it has in mind.
#[derive(Clone, Debug)]
pub struct Pianist {
    /// Plays what is written.
    pub written: LeftHand,
    /// Plays instead where the pattern says that it improvises.
    pub free: FreeHand,
}

impl Pianist {
    /// They have not played yet.
    pub fn new(book: Book) -> Self {
        Self { written: LeftHand::new(), free: FreeHand::new(book) }
    }

    /// They forget where they were: a jump, a stop.
    pub fn reset(&mut self) {
        self.written.reset();
        self.free.reset();
    }

    /// The first slot after `after`, looked for in the bar `place`.
    pub fn next_slot(&self, place: Place, after: Ticks, program: &Program) -> Option<SlotAt> {
        match program.improvises(place.metre) {
            true => Some(self.free.next_slot(place, after, &program.settings)),
            false => program.pattern.next_slot(place, after, &program.settings),
        }
    }

    /// What to strike at `slot` to begin, or go on, with `begin`.
    pub fn stroke(
        &mut self,
        slot: SlotAt,
        begin: Begin,
        starts: bool,
        belief: &Belief,
        program: &Program,
    ) -> Stroke {
        let Program { pattern, settings, .. } = program;
        let moment = belief.moment(begin, starts);
        if program.improvises(slot.place.metre) {
            // What the hand takes for the bass is what is likely right below.
            let moment = Moment { chord: begin.chord.over(begin.class), ..moment };
            let end = program.last_end(slot.grid).map(|end| (end, Heard::End));
            self.free.stroke(slot, &moment, end, pattern, settings)
        } else if let Some(end) = self.end_of_style(slot, program) {
            let told = if starts || !self.free.has_landed() {
                self.written.root_now(pattern, &moment, settings)
            } else {
                Stroke::new()
            };
            self.free.landed(told, end)
        } else if slot.index != FreeHand::TOLD {
            self.as_written(slot, moment, &belief.hearing, program)
        } else if starts {
            self.root_now(begin.chord, belief, program)
        } else {
            Stroke::new()
        }
    }

    /// Until when the last root is held, where the hand draws from a style and the song
    /// has come to its end: from when on, and why, as where it improvises.
    fn end_of_style(&self, slot: SlotAt, program: &Program) -> Option<Landing> {
        let known = program.last_end(slot.grid).map(|end| (end, Heard::End));
        let draws = program.pattern.draws();
        draws.then(|| known.or_else(|| self.free.hears_the_end(slot)))?
    }

    /// The root of `chord` at once, off the grid.
    pub fn root_now(&mut self, chord: Chord, belief: &Belief, program: &Program) -> Stroke {
        let moment = belief.moment(Begin { chord, class: chord.bass }, true);
        self.written.root_now(&program.pattern, &moment, &program.settings)
    }

    /// What the pattern has at a slot, unless that is likely foreign by now.
    fn as_written(
        &mut self,
        slot: SlotAt,
        moment: Moment,
        hearing: &Hearing,
        program: &Program,
    ) -> Stroke {
        let mut hand = self.written;
        let mut stroke = hand.stroke(&program.pattern, slot, &moment, &program.settings);
        let risky = |note: &Note| is_risky(note.key, note.role, moment.first, hearing);
        if !moment.starts && stroke.iter().any(risky) {
            hand = self.written;
            let moment = Moment { starts: true, ..moment };
            stroke = hand.stroke(&program.pattern, slot, &moment, &program.settings);
        }
        self.written = hand;
        stroke
    }
}

/// Whether a note is much likelier to be foreign than `class` is.
pub fn is_risky(key: KeyNumber, role: Role, class: PitchClass, hearing: &Hearing) -> bool {
    let odds = |class: PitchClass| class.of(&hearing.tones);
    role != Role::Passing && odds(key.class()) + RISK < odds(class)
}
