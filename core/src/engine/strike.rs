//! What our hand does with what it heard: strike with the right hand, at a
//! slot, or at once when the root was wrong.

use super::{Engine, Output, Played, together::Waiting};
use crate::chord::Chord;
use crate::foresee::Source;
use crate::hear::Hearing;
use crate::play::{Moment, SlotAt, Stroke};
use crate::time::Ticks;

/// From this certainty on a chord is played before its stroke has settled.
const READY: f32 = 0.75;

/// From this certainty on a change between two slots is played at once; below
/// it the next slot will do.
const SURE: f32 = 0.95;

// What it takes to believe a new root at a slot. Chosen on POP909-CL (the
// example `song_figures`): fewer roots are struck in vain, at the price of a
// few that come a slot later.
/// On a strong beat, with the right hand.
const ENOUGH: f32 = 0.15;
/// More without it: foresight alone says so.
const UNHEARD: f32 = 0.1;
/// More for each step away from the strong beats.
const OFF_THE_BEAT: f32 = 0.2;

/// A slot this near to a change between slots is left to play it.
const SOON: Ticks = Ticks(Ticks::PER_BEAT / 4);

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
        let ready = hearing.settled || hearing.certainty >= READY;
        if !ready || self.slot.is_none() || self.resting(at) {
            return;
        }
        if let Some(waiting) = self.waiting.take() {
            return self.strike_slot(waiting.slot, at, frame, out);
        }
        if self.struck.is_some_and(|struck| same_bass(struck, chord)) {
            return;
        }
        let early = Ticks::of_ms(f64::from(self.settings.window_ms), self.clock.tempo());
        match self.slot {
            // An early hand owns the slot that comes.
            Some(slot) if slot.grid - at <= early => {
                self.take_slot(slot);
                self.strike_slot(slot, at, frame, out);
            }
            Some(slot) if slot.at - at < SOON => {}
            _ if hearing.certainty < SURE || self.tacet(at) => {}
            // A change between slots, or a root that turned out wrong.
            _ => {
                let moment = self.moment(at, chord, true);
                let stroke = self.hand.root_now(&self.pattern, &moment, &self.settings);
                self.strike(&stroke, chord, at, frame, out);
            }
        }
    }

    /// The time of the next slot has come.
    pub(super) fn slot_comes(&mut self, frame: u32, out: &mut impl Output) {
        let Some(slot) = self.slot else { return };
        if let Some(waiting) = self.waiting.take() {
            self.strike_slot(waiting.slot, waiting.until, frame, out);
        }
        self.take_slot(slot);
        let most = Ticks::of_ms(f64::from(self.settings.window_ms), self.clock.tempo());
        let window = self.punctuality.window(most);
        let waits = self.change_is_due(slot.grid, window) || self.is_striking(slot.at, out);
        if window > Ticks::ZERO && waits {
            self.waiting = Some(Waiting { slot, until: slot.at + window });
        } else {
            self.strike_slot(slot, slot.at, frame, out);
        }
    }

    /// This slot is dealt with; the next one is looked up.
    fn take_slot(&mut self, slot: SlotAt) {
        self.taken = Some(slot);
        self.slot = self.slot_after(slot.at);
    }

    /// Whether a change is foreseen at `grid` that the right hand has not
    /// struck yet.
    fn change_is_due(&self, grid: Ticks, window: Ticks) -> bool {
        let heard = self.right_struck.is_some_and(|struck| struck >= grid - window);
        let foreseen = self.listener.forecast().is_some_and(|next| {
            (next.at - grid).0.abs() <= Ticks::PER_BEAT / 8
                && next.source != Source::Odds
                && next.certainty * next.when_certainty >= LIKELY
        });
        foreseen && !heard
    }

    /// Whether the right hand is in the midst of a stroke that does not yet show
    /// which chord it will be.
    fn is_striking(&mut self, at: Ticks, out: &mut impl Output) -> bool {
        let unsettled = self.listener.ear.due().is_some_and(|due| due > at);
        unsettled && self.listen(at, out).certainty < READY
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
            return;
        }
        if self.resting(at) {
            return;
        }
        let Some(chord) = self.believed(at, hearing) else { return };
        let starts =
            self.struck.is_none_or(|struck| !same_bass(struck, chord) || turns(struck, chord));
        let moment = self.moment(at, chord, starts);
        let stroke = self.hand.stroke(&self.pattern, slot, &moment, &self.settings);
        self.strike(&stroke, chord, at, frame, out);
    }

    /// The chord to play at a slot: what is heard, unless that is a new root on
    /// too little evidence.
    fn believed(&self, at: Ticks, hearing: Hearing) -> Option<Chord> {
        let heard = hearing.chord?;
        let Some(struck) = self.struck.filter(|struck| !same_bass(*struck, heard)) else {
            return Some(heard);
        };
        let near = Ticks(Ticks::PER_BEAT / 8);
        let here = self.right_struck.is_some_and(|right| right >= at - near);
        let enough = if here { ENOUGH } else { ENOUGH + UNHEARD }
            + OFF_THE_BEAT * self.listener.ear.off_beat(at, self.place_of(at));
        Some(if hearing.certainty >= enough { heard } else { struck })
    }

    /// All that our hand knows at this moment.
    pub(super) fn moment(&self, at: Ticks, chord: Chord, starts: bool) -> Moment {
        Moment {
            at,
            place: self.place_of(at),
            chord,
            starts,
            next: self.listener.forecast().filter(|next| next.at > at),
            key: self.song_key(),
            ceiling: self.listener.ear.lowest_right().unwrap_or(self.settings.split),
            loudness: self.listener.ear.loudness(),
            tempo: self.clock.tempo(),
        }
    }

    /// Strikes the notes; what sounded before ends with them.
    fn strike(
        &mut self,
        stroke: &Stroke,
        chord: Chord,
        at: Ticks,
        frame: u32,
        out: &mut impl Output,
    ) {
        if stroke.is_empty() {
            return;
        }
        self.ledger.end_own(frame, out);
        let channel = self.settings.channel.unwrap_or(self.right_channel).min(15);
        for note in stroke {
            let how = (note.key, note.role, note.velocity);
            let until = self.ends_by_tacet(at, note.until);
            if self.ledger.strike(frame, channel, how, until, out) {
                out.played(&Played {
                    frame,
                    at,
                    key: note.key,
                    velocity: note.velocity,
                    role: note.role,
                    chord,
                    song_key: self.song_key(),
                    next: self.listener.forecast(),
                });
            }
        }
        self.struck = Some(chord);
    }
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
