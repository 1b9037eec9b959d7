//! What our hand does with what it believes: strike with the right hand, at a
//! slot, or at once when the root was wrong.

use super::belief::Belief;
use super::memory::STANDS;
use super::pedal::PedalledStroke;
use super::{Engine, Message, Output, Played, Timed, together::WaitingSlot};
use crate::belief::begin::Begin;
use crate::chord::Chord;
use crate::play::{FreeHand, SlotAt, Stroke, touch};
use crate::time::Ticks;

/// From this certainty on a change between two slots is played at once; below
/// it the next slot will do.
const AT_ONCE: f32 = 0.95;

/// A slot this near to a change between slots is left to play it.
const SOON: Ticks = Ticks(Ticks::PER_BEAT / 4);

impl Engine {
    /// The right hand struck, or its stroke has settled: our answer.
    pub(super) fn answer(&mut self, belief: &Belief, frame: u32, out: &mut impl Output) {
        let (at, hearing) = (belief.at, &belief.hearing);
        let (Some(chord), Some(slot)) = (hearing.chord, self.agenda.slot) else { return };
        self.pedal.harmony(chord, frame, out);
        if !self.memory.is_ready(belief) || self.rests(belief) {
            return;
        }
        if let Some(waiting) = self.agenda.waiting.take() {
            return self.strike_slot(waiting.slot, belief, frame, out);
        }
        if !self.memory.is_new(chord) {
            return;
        }
        if slot.grid - at <= self.patience() && self.is_meant(slot, at) {
            // An early hand owns the slot that comes.
            self.take_slot(slot);
            self.strike_slot(slot, belief, frame, out);
        } else if slot.at - at < SOON || hearing.certainty < AT_ONCE || self.program.tacet(at) {
            // The slot will tell, or it is too soon to.
        } else if self.program.pattern.is_free() {
            // A figure may leave a change out; it is told where a figure strikes.
            let told = FreeHand::told(at, belief.place, &self.program.settings);
            if slot.at - told.at >= FreeHand::LEAVES_OUT {
                self.agenda.slot = Some(told);
            }
        } else {
            // A change between slots, or a root that turned out wrong.
            let stroke = self.hands.root_now(chord, belief, &self.program);
            self.strike(&stroke, chord, None, belief, frame, out);
            self.view.draw(at, &stroke);
        }
    }

    /// Whether an early hand can mean `slot`: a figure has sixteenths, and what
    /// is nearer to the one before is not meant for the next.
    fn is_meant(&self, slot: SlotAt, at: Ticks) -> bool {
        !self.program.pattern.is_free() || slot.at - at <= Ticks(Ticks::PER_BEAT / 8)
    }

    /// The time of the next slot has come; `coming` is what the player does later
    /// in this block.
    pub(super) fn slot_comes(&mut self, frame: u32, coming: &[Timed], out: &mut impl Output) {
        let Some(slot) = self.agenda.slot else { return };
        let waiting = self.agenda.waiting.take();
        if let Some(waiting) = waiting.filter(|waiting| waiting.until > slot.at) {
            // Of a hand that is so late the chord is to begin with its bass.
            self.agenda.waiting = Some(waiting);
            return self.take_slot(slot);
        }
        if let Some(waiting) = waiting {
            let belief = self.believe(waiting.until, out);
            self.strike_slot(waiting.slot, &belief, frame, out);
        }
        self.take_slot(slot);
        match self.holds(slot, frame, coming, out) {
            Some(until) => self.agenda.waiting = Some(WaitingSlot { slot, until }),
            None => {
                let belief = self.believe(slot.at, out);
                self.strike_slot(slot, &belief, frame, out);
            }
        }
    }

    /// The slot that waited has waited long enough, unless the right hand is in
    /// the midst of its stroke.
    pub(super) fn waited(&mut self, at: Ticks, frame: u32, out: &mut impl Output) {
        let Some(waiting) = self.agenda.waiting.take() else { return };
        if let Some(until) = self.agenda.struck {
            self.agenda.waiting = Some(WaitingSlot { until, ..waiting });
            return;
        }
        let settles = self.settles().filter(|due| *due > at);
        let belief = self.believe(at, out);
        match settles.filter(|_| !self.memory.is_ready(&belief)) {
            // A stroke that begins as late as a hand may be needs as long to settle.
            Some(until) if until <= waiting.slot.at + self.window() + self.patience() => {
                self.agenda.waiting = Some(WaitingSlot { until, ..waiting });
            }
            _ => self.strike_slot(waiting.slot, &belief, frame, out),
        }
    }

    /// The longest that a slot waits for a hand that is in time.
    fn patience(&self) -> Ticks {
        self.program.patience(self.clock.tempo())
    }

    /// The longest that a slot waits for this hand.
    fn window(&self) -> Ticks {
        let most = self.patience();
        self.memory.right.window(most).max(most)
    }

    /// Until when a slot waits for the right hand, because one moment is to have
    /// one stroke: the hand's own is yet to be heard, the hand is in the midst of it,
    /// is heard ahead to strike just after, is late as it is used to be where the
    /// chord will change, or the home has rounded its beats.
    fn holds(
        &mut self,
        slot: SlotAt,
        frame: u32,
        coming: &[Timed],
        out: &mut impl Output,
    ) -> Option<Ticks> {
        if self.agenda.struck.is_some() {
            return self.agenda.struck;
        }
        let most = self.patience();
        let window = self.memory.right.window(most);
        if window > Ticks::ZERO && self.settles().is_some_and(|due| due > slot.at) {
            let belief = self.believe(slot.at, out);
            if !self.memory.is_ready(&belief) {
                return Some(slot.at + window);
            }
        }
        if self.ahead().is_some() {
            return self.memory.known_stroke(slot, most);
        }
        if self.memory.right.is_late(most) {
            self.believe(slot.at, out);
            if self.memory.comes(slot, most, &self.program).is_some() {
                return None;
            }
        }
        let place = self.place_of(slot.grid);
        if window > Ticks::ZERO && self.memory.change_is_due(slot.grid, place, window.min(most)) {
            return Some(slot.at + window);
        }
        self.rounded(slot, frame, coming)
    }

    /// Until when a slot waits that may have come too early only because samples
    /// or the home's beats are whole numbers.
    fn rounded(&self, slot: SlotAt, frame: u32, coming: &[Timed]) -> Option<Ticks> {
        let right = &self.memory.right;
        if right.struck.is_some_and(|struck| struck >= slot.at - Ticks(2)) {
            return None;
        }
        let late = right.is_some_samples_late().then_some(slot.at + Ticks(1));
        let Some(frames) = self.clock.rounding() else { return late };
        let last = frame.saturating_add(frames);
        let strikes = |event: &Timed| match event.message {
            Message::On { key, velocity, .. } => velocity > 0 && key >= self.program.settings.split,
            _ => false,
        };
        let comes = coming.iter().take_while(|event| event.frame <= last).any(strikes);
        let span = self.clock.at(last) - self.clock.at(frame) + Ticks(1);
        (comes || last >= self.clock.frames()).then_some(slot.at + span)
    }

    /// This slot is dealt with; the next one is looked up.
    fn take_slot(&mut self, slot: SlotAt) {
        let Self { program, clock, hands, agenda, memory, .. } = self;
        let chords = (memory.struck, memory.listener.forecast());
        let chart = program.song_in_bars();
        hands.free.turn_to(slot, chart, chords, clock.tempo(), &program.settings);
        let next = program.place_of(slot.place.bar + slot.place.metre.bar(), clock.place());
        let section = hands.free.section(next, chart);
        let right = hands.free.right_strokes(slot.place);
        program.pattern.turn_to(next, section, right, &program.settings);
        agenda.take(slot, program, clock, hands);
    }

    /// Whether our hand is down.
    fn rests(&mut self, belief: &Belief) -> bool {
        self.memory.rests(belief.at, belief.place, &self.program.settings)
    }

    /// Plays a slot of the pattern by what is believed now.
    fn strike_slot(&mut self, slot: SlotAt, belief: &Belief, frame: u32, out: &mut impl Output) {
        let tacet = self.program.tacet(slot.grid);
        if tacet {
            self.memory.struck = None; // whatever follows begins anew
        }
        if tacet || self.rests(belief) {
            self.pedal.lift(frame, out);
            return self.view.draw(slot.at, &Stroke::new());
        }
        let comes = self.memory.comes(slot, self.patience(), &self.program);
        let begin = comes
            .or_else(|| self.memory.begin(slot, belief.at, &belief.hearing, &self.program))
            .or_else(|| self.goes_on(slot, belief));
        let Some(begin @ Begin { chord, .. }) = begin else { return };
        let starts = self.memory.starts(chord);
        let mut stroke = self.hands.stroke(slot, begin, starts, belief, &self.program);
        let how = (starts, belief.tempo);
        touch::loosen(&mut stroke, slot.grid, slot.place, how, &self.program.settings);
        self.strike(&stroke, chord, Some(slot.grid), belief, frame, out);
        self.view.draw(slot.at, &stroke);
    }

    /// What a hand that improvises goes on with inside of a bar, on a strong beat as well,
    /// where nothing is likely enough: the chord struck last, if that is likely to hold
    /// and its bass is not denied.
    fn goes_on(&self, slot: SlotAt, belief: &Belief) -> Option<Begin> {
        let metre = slot.place.metre;
        let near = self.memory.right.struck.is_some_and(|right| slot.at - right <= metre.bar());
        let inside = slot.grid > slot.place.bar && self.program.improvises(metre);
        let holds = || self.hands.free.holds_by_habit(slot, slot.grid, belief.next);
        let chord = self.memory.struck.filter(|_| near && inside && holds())?;
        let stands = chord.bass.of(&belief.hearing.tones) >= STANDS;
        stands.then_some(Begin { chord, class: chord.bass })
    }

    /// The pedal goes with a stroke, if the player wants one.
    fn press(
        &mut self,
        stroke: &Stroke,
        chord: Chord,
        belief: &Belief,
        frame: u32,
        out: &mut impl Output,
    ) {
        let settings = &self.program.settings;
        let (Some(first), true) = (stroke.first(), settings.pedal) else { return };
        let at = belief.at;
        let sure = belief.next.filter(|next| next.together >= settings.certainty && next.at > at);
        let changes = sure.map_or(Ticks(i64::MAX), |next| next.at);
        let ends = self.program.last_end(at).unwrap_or(changes);
        let stroke = PedalledStroke {
            at,
            chord,
            role: first.role,
            until: first.until,
            changes: self.program.end_of(at, changes.min(ends)),
            bar: belief.place.metre.bar(),
            tempo: belief.tempo,
        };
        self.pedal.stroke(&stroke, frame, out);
    }

    /// Strikes the notes; what sounded before ends with them, or where the hand
    /// improvises or has two voices, what the chord makes wrong and what they take
    /// the place of.
    fn strike(
        &mut self,
        stroke: &Stroke,
        chord: Chord,
        grid: Option<Ticks>,
        belief: &Belief,
        frame: u32,
        out: &mut impl Output,
    ) {
        if stroke.is_empty() {
            return;
        }
        if self.program.improvises(belief.place.metre) {
            self.voices.end_foreign(chord, frame, out);
        } else if self.program.pattern.has_two_voices() {
            self.voices.end_foreign(chord, frame, out);
            self.voices.give_way(stroke, frame, out);
        } else {
            self.voices.end_own(frame, out);
        }
        let at = belief.at;
        let (root, odds) = (chord.root, &belief.hearing.odds);
        let ear = self.memory.listener.ear();
        let other = out.reads_other().then(|| ear.other_than(root, odds, at)).flatten();
        let channel = self.channel();
        self.press(stroke, chord, belief, frame, out);
        for note in stroke {
            let until = self.program.end_of(at, note.until);
            let told = Played {
                frame,
                at,
                grid,
                key: note.key,
                velocity: note.velocity,
                role: note.role,
                chord,
                sure: root.of(odds),
                other,
                song_key: belief.key,
                next: belief.next,
                why: note.why,
            };
            self.voices.strike(channel, note, until, told, out);
        }
        self.memory.struck = Some(chord);
    }
}
