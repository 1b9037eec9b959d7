//! What our hand does with what it heard: strike with the right hand, at a
//! slot, or at once when the root was wrong.

use super::{Engine, Message, Output, Played, Timed, together::Waiting};
use crate::belief::begin::{self, Begin};
use crate::chord::Chord;
use crate::foresee::Source;
use crate::hear::Hearing;
use crate::pitch::{KeyNumber, PitchClass};
use crate::play::{FreeHand, Moment, Note, Role, SlotAt, Stroke, accent};
use crate::time::Ticks;

/// From this certainty on a chord is played before its stroke has settled.
const READY: f32 = 0.75;

/// From this certainty on a change between two slots is played at once; below
/// it the next slot will do.
const SURE: f32 = 0.95;

/// A note of the pattern that is so much likelier foreign than what a chord
/// begins with gives way to that.
const RISK: f32 = 0.25;

/// A slot this near to a change between slots is left to play it.
const SOON: Ticks = Ticks(Ticks::PER_BEAT / 4);

/// From these odds on the bass of the chord struck last is not denied.
const STANDS: f32 = 0.5;

/// A change foreseen at least this surely (root and time together) makes our
/// hand wait for the right one; odds alone are no reason to be late.
const LIKELY: f32 = 0.25;

impl Engine {
    /// The right hand struck, or its stroke has settled: our answer.
    pub(super) fn answer(
        &mut self,
        at: Ticks,
        frame: u32,
        hearing: Hearing,
        out: &mut impl Output,
    ) {
        let Some(chord) = hearing.chord else { return };
        if !self.is_ready(at, &hearing) || self.slot.is_none() || self.resting(at) {
            return;
        }
        if let Some(waiting) = self.waiting.take() {
            return self.strike_slot(waiting.slot, at, frame, out);
        }
        if self.struck.is_some_and(|struck| same_bass(struck, chord)) {
            return;
        }
        let early = self.patience();
        match self.slot {
            // An early hand owns the slot that comes.
            Some(slot) if slot.grid - at <= early && self.is_meant(slot, at) => {
                self.take_slot(slot);
                self.strike_slot(slot, at, frame, out);
            }
            Some(slot) if slot.at - at < SOON => {}
            _ if hearing.certainty < SURE || self.tacet(at) => {}
            // A figure may leave a change out; it is told where a figure strikes.
            Some(slot) if self.pattern.is_free() => {
                let told = FreeHand::told(at, self.place_of(at), &self.settings);
                if slot.at - told.at >= FreeHand::LEAVES_OUT {
                    self.slot = Some(told);
                }
            }
            // A change between slots, or a root that turned out wrong.
            _ => {
                let moment = self.moment(at, chord, true);
                let stroke = self.hand.root_now(&self.pattern, &moment, &self.settings);
                self.strike(&stroke, chord, (at, None), frame, out);
                self.draw(at, &stroke);
            }
        }
    }

    /// Whether an early hand can mean `slot`: a figure has sixteenths, and what
    /// is nearer to the one before is not meant for the next.
    fn is_meant(&self, slot: SlotAt, at: Ticks) -> bool {
        !self.pattern.is_free() || slot.at - at <= Ticks(Ticks::PER_BEAT / 8)
    }

    /// The time of the next slot has come; `coming` is what the player does later
    /// in this block.
    pub(super) fn slot_comes(&mut self, frame: u32, coming: &[Timed], out: &mut impl Output) {
        let Some(slot) = self.slot else { return };
        if let Some(waiting) = self.waiting.take() {
            self.strike_slot(waiting.slot, waiting.until, frame, out);
        }
        self.take_slot(slot);
        match self.holds(slot, frame, coming, out) {
            Some(until) => self.waiting = Some(Waiting { slot, until }),
            None => self.strike_slot(slot, slot.at, frame, out),
        }
    }

    /// The slot that waited has waited long enough, unless the right hand is in
    /// the midst of its stroke.
    pub(super) fn waited(&mut self, at: Ticks, frame: u32, out: &mut impl Output) {
        let Some(waiting) = self.waiting.take() else { return };
        let settles = self.listener.ear.due().filter(|due| *due > at);
        match settles.filter(|_| self.is_striking(at, out)) {
            // A stroke that begins as late as a hand may be needs as long to settle.
            Some(until) if until <= waiting.slot.at + self.patience() + self.patience() => {
                self.waiting = Some(Waiting { until, ..waiting });
            }
            _ => self.strike_slot(waiting.slot, at, frame, out),
        }
    }

    /// The longest that a slot waits.
    fn patience(&self) -> Ticks {
        Ticks::of_ms(f64::from(self.settings.window_ms), self.clock.tempo())
    }

    /// Until when a slot waits for the right hand, because one moment is to have
    /// one stroke: the hand is in the midst of its own, is heard ahead to strike
    /// just after, is late as it is used to be where the chord will change, or
    /// the home has rounded its beats.
    fn holds(
        &mut self,
        slot: SlotAt,
        frame: u32,
        coming: &[Timed],
        out: &mut impl Output,
    ) -> Option<Ticks> {
        let most = self.patience();
        let window = self.punctuality.window(most);
        if window > Ticks::ZERO && self.is_striking(slot.at, out) {
            return Some(slot.at + window);
        }
        if self.ahead().is_some() {
            return self.known_stroke(slot, most);
        }
        if window > Ticks::ZERO && self.change_is_due(slot.grid, window) {
            return Some(slot.at + window);
        }
        self.rounded(slot, frame, coming)
    }

    /// When a new chord that was heard ahead is struck, if that is just after the
    /// slot.
    fn known_stroke(&self, slot: SlotAt, most: Ticks) -> Option<Ticks> {
        let scout = self.scout.as_ref()?;
        let known = scout.known(slot.at)?;
        let near = slot.at - Ticks(Ticks::PER_BEAT / 8);
        let next = known.next.filter(|next| next.at <= slot.at + most);
        let chord = next.or(known.now.filter(|now| now.at >= near))?.chord;
        if self.struck.is_some_and(|struck| same_bass(struck, chord)) {
            return None;
        }
        let stroke = scout.next_stroke(slot.at)?;
        let is_to_come = self.right_struck.is_none_or(|struck| struck < stroke);
        // A tick more than it takes, for the host's rounding.
        (is_to_come && stroke <= slot.at + most).then_some(stroke + Ticks(2))
    }

    /// Until when a slot waits that may have come too early only because samples
    /// or the home's beats are whole numbers.
    fn rounded(&self, slot: SlotAt, frame: u32, coming: &[Timed]) -> Option<Ticks> {
        if self.right_struck.is_some_and(|struck| struck >= slot.at - Ticks(2)) {
            return None;
        }
        let late = self.punctuality.is_some_samples_late().then_some(slot.at + Ticks(1));
        let Some(frames) = self.clock.rounding() else { return late };
        let last = frame.saturating_add(frames);
        let strikes = |event: &Timed| match event.message {
            Message::On { key, velocity, .. } => velocity > 0 && key >= self.settings.split,
            _ => false,
        };
        let comes = coming.iter().take_while(|event| event.frame <= last).any(strikes);
        let span = self.clock.at(last) - self.clock.at(frame) + Ticks(1);
        (comes || last >= self.clock.frames()).then_some(slot.at + span)
    }

    /// This slot is dealt with; the next one is looked up.
    fn take_slot(&mut self, slot: SlotAt) {
        self.taken = Some(slot);
        let bar = self.song_in_bars().map(|song| song.bar_and_first(slot.grid));
        self.free.turn_to(slot, bar, self.clock.tempo(), &self.settings);
        self.slot = self.slot_after(slot.at);
    }

    /// Whether a change is foreseen at `grid` that the right hand has not
    /// struck yet.
    fn change_is_due(&self, grid: Ticks, window: Ticks) -> bool {
        let heard = self.right_struck.is_some_and(|struck| struck >= grid - window);
        let habit = self.habit.strikes_at(grid, self.place_of(grid));
        let foreseen = self.listener.forecast().is_some_and(|next| {
            let sure = match next.source {
                // Which chord it will be is not known, but that one comes.
                _ if habit => 1.0,
                Source::Odds => 0.0,
                _ => next.certainty,
            };
            (next.at - grid).0.abs() <= Ticks::PER_BEAT / 8 && sure * next.when_certainty >= LIKELY
        });
        foreseen && !heard
    }

    /// Whether the right hand is in the midst of a stroke that does not yet show
    /// which chord it will be.
    fn is_striking(&mut self, at: Ticks, out: &mut impl Output) -> bool {
        let unsettled = self.listener.ear.due().is_some_and(|due| due > at);
        unsettled && {
            let hearing = self.listen(at, out);
            !self.is_ready(at, &hearing)
        }
    }

    /// Whether a stroke shows which chord it is: it is over, or it is clear, and
    /// neither a strum that has only begun nor another chord than was heard ahead.
    fn is_ready(&self, at: Ticks, hearing: &Hearing) -> bool {
        let Some(chord) = hearing.chord.filter(|_| !hearing.settled) else { return true };
        let new = self.struck.is_none_or(|struck| !same_bass(struck, chord));
        let part = new
            && self.punctuality.window(Ticks(1)) > Ticks::ZERO
            && !self.grip.is_full(self.listener.ear.struck_together(at));
        let another = self.known_near(at).is_some_and(|known| !same_bass(known, chord));
        hearing.certainty >= READY && !part && !another
    }

    /// The chord that was heard ahead to hold at `at`, or to begin there.
    fn known_near(&self, at: Ticks) -> Option<Chord> {
        let known = self.scout.as_ref()?.known(at)?;
        let soon = at + Ticks(Ticks::PER_BEAT / 8);
        Some(known.next.filter(|next| next.at <= soon).or(known.now)?.chord)
    }

    /// Whether our hand is down: switched off, the player's own left hand
    /// plays, or the right has been silent for long.
    fn resting(&mut self, at: Ticks) -> bool {
        let place = self.place_of(at);
        if self.listener.ear.own_left() != 0 {
            self.rests.own_left(at, place);
        }
        !self.settings.plays || self.rests.at(at, place, self.settings.hold_bars)
    }

    /// Plays a slot of the pattern at `at`.
    pub(super) fn strike_slot(
        &mut self,
        slot: SlotAt,
        at: Ticks,
        frame: u32,
        out: &mut impl Output,
    ) {
        let hearing = self.listen(at, out);
        if self.tacet(slot.grid) {
            self.struck = None; // whatever follows begins anew
            return self.draw(slot.at, &Stroke::new());
        }
        if self.resting(at) {
            return self.draw(slot.at, &Stroke::new());
        }
        let begin = self.believed(at, hearing).or_else(|| self.plays_on(slot, &hearing));
        let Some(begin) = begin else { return };
        let Begin { chord, class } = begin;
        let moment = self.moment(at, chord, self.starts(chord));
        let stroke = if self.pattern.improvises(slot.place.metre) {
            // What the hand takes for the bass is what is likely right below.
            let moment = Moment { chord: chord.over(class), ..moment };
            let last = self.song_in_bars().and_then(|song| song.last_chord());
            let end = last.filter(|(from, _)| *from <= slot.grid).map(|(_, end)| end);
            self.free.stroke(slot, &moment, end, &self.pattern, &self.settings)
        } else if slot.index == FreeHand::TOLD {
            let root = |hand: &mut crate::play::LeftHand| {
                hand.root_now(&self.pattern, &moment, &self.settings)
            };
            if moment.starts { root(&mut self.hand) } else { Stroke::new() }
        } else {
            self.written(slot, Moment { instead: Some(class), ..moment }, &hearing)
        };
        self.strike(&stroke, chord, (at, Some(slot.grid)), frame, out);
        self.draw(slot.at, &stroke);
    }

    /// Whether a stroke to `chord` is the first to it.
    pub(super) fn starts(&self, chord: Chord) -> bool {
        self.struck.is_none_or(|struck| !same_bass(struck, chord) || turns(struck, chord))
    }

    /// What the pattern has at a slot, unless that is likely foreign by now.
    fn written(&mut self, slot: SlotAt, moment: Moment, hearing: &Hearing) -> Stroke {
        let mut hand = self.hand;
        let mut stroke = hand.stroke(&self.pattern, slot, &moment, &self.settings);
        let first = moment.first();
        let risky = |note: &Note| is_risky(note.key, note.role, first, hearing);
        if !moment.starts && stroke.iter().any(risky) {
            hand = self.hand;
            let moment = Moment { starts: true, ..moment };
            stroke = hand.stroke(&self.pattern, slot, &moment, &self.settings);
        }
        self.hand = hand;
        stroke
    }

    /// What to begin with at a slot, if anything: by what is heard and by what
    /// was struck last. Nothing is guessed into silence: where the right hand
    /// holds nothing and has struck nothing, another chord needs the player's
    /// certainty.
    pub(super) fn believed(&self, at: Ticks, hearing: Hearing) -> Option<Begin> {
        let heard = hearing.chord?;
        let struck = self.struck.filter(|struck| !same_bass(*struck, heard));
        let near = Ticks(Ticks::PER_BEAT / 8);
        let here = self.right_struck.is_some_and(|right| right >= at - near);
        let silent = !here && self.listener.ear.right() == 0;
        if let Some(struck) = struck
            && silent
            && self.song_in_bars().is_none()
            && hearing.certainty < self.settings.certainty
        {
            return Some(Begin { chord: struck, class: struck.bass });
        }
        begin::begin(&hearing, heard, struck, self.worth)
    }

    /// A figure goes on under doubt: for a bar after the right hand's last
    /// stroke, where chords don't like to change, on the chord struck last if
    /// that is not denied.
    fn plays_on(&self, slot: SlotAt, hearing: &Hearing) -> Option<Begin> {
        let metre = slot.place.metre;
        let near = self.right_struck.is_some_and(|right| slot.at - right <= metre.bar());
        let level = accent::level(&accent::beats(metre), slot.grid - slot.place.bar);
        let chord = self.struck.filter(|_| near && level > 1 && self.pattern.improvises(metre))?;
        let stands = hearing.tones[chord.bass.index()] >= STANDS;
        stands.then_some(Begin { chord, class: chord.bass })
    }

    /// All that our hand knows at this moment.
    pub(super) fn moment(&self, at: Ticks, chord: Chord, starts: bool) -> Moment {
        Moment {
            at,
            place: self.place_of(at),
            chord,
            instead: None,
            starts,
            next: self.listener.forecast().filter(|next| next.at > at),
            key: self.song_key(),
            ceiling: self.listener.ear.lowest_right().unwrap_or(self.settings.split),
            loudness: self.listener.ear.loudness(),
            tempo: self.clock.tempo(),
        }
    }

    /// Strikes the notes; what sounded before ends with them, or where the hand
    /// improvises, what the chord makes wrong.
    fn strike(
        &mut self,
        stroke: &Stroke,
        chord: Chord,
        (at, grid): (Ticks, Option<Ticks>),
        frame: u32,
        out: &mut impl Output,
    ) {
        if stroke.is_empty() {
            return;
        }
        if self.pattern.improvises(self.place_of(at).metre) {
            self.ledger.end_foreign(chord, frame, out);
        } else {
            self.ledger.end_own(frame, out);
        }
        let sure = self.listener.ear.hearing().roots[chord.root.index()];
        let channel = self.settings.channel.unwrap_or(self.right_channel).min(15);
        for note in stroke {
            let how = (note.key, note.role, note.velocity);
            let until = self.ends_by_tacet(at, note.until);
            if self.ledger.strike(frame, channel, how, until, out) {
                out.played(&Played {
                    frame,
                    at,
                    grid,
                    key: note.key,
                    velocity: note.velocity,
                    role: note.role,
                    chord,
                    sure,
                    song_key: self.song_key(),
                    next: self.listener.forecast(),
                });
            }
        }
        self.struck = Some(chord);
    }
}

/// Whether a note is much likelier to be foreign than `class` is.
pub(super) fn is_risky(key: KeyNumber, role: Role, class: PitchClass, hearing: &Hearing) -> bool {
    let odds = |class: PitchClass| hearing.tones[class.index()];
    role != Role::Passing && odds(key.class()) + RISK < odds(class)
}

/// Whether the left hand would play the same to both.
fn same_bass(a: Chord, b: Chord) -> bool {
    a.root == b.root && a.bass == b.bass
}

/// Whether a chord on the same root turns from major to minor, or back, and so
/// is another one: C7 to Cm7. A suspension and what it resolves to are one.
fn turns(from: Chord, to: Chord) -> bool {
    let third = |chord: Chord| chord.third().map(|third| third.above(chord.root));
    matches!((third(from), third(to)), (Some(3), Some(4)) | (Some(4), Some(3)))
}
