//! What our hand has to do next: which slot of the pattern comes, which waits.

use super::clock::BlockClock;
use super::hands::Pianist;
use super::program::Program;
use super::together::WaitingSlot;
use crate::play::SlotAt;
use crate::time::{Place, Ticks};

/// Where in the pattern we are.
#[derive(Clone, Copy, Debug, Default)]
pub struct Agenda {
    /// The next slot; `None` while time stands still.
    pub slot: Option<SlotAt>,
    /// The last slot that was dealt with.
    taken: Option<SlotAt>,
    /// When a stroke of the right hand is heard that is not yet.
    pub struck: Option<Ticks>,
    /// A slot whose time has come and that the right hand may still join.
    pub waiting: Option<WaitingSlot>,
}

impl Agenda {
    /// From `at` on, and nothing before.
    pub fn from(at: Ticks, program: &Program, clock: &BlockClock, hands: &Pianist) -> Self {
        let slot = slot_after(at + Ticks(-1), program, clock, hands);
        Self { slot, ..Self::default() }
    }

    /// The slot after which the next one is looked up is dealt with.
    pub fn take(&mut self, slot: SlotAt, program: &Program, clock: &BlockClock, hands: &Pianist) {
        self.taken = Some(slot);
        self.slot = slot_after(slot.at, program, clock, hands);
    }

    /// There is another pattern: its first slot that the old one has not had yet.
    pub fn look_again(&mut self, program: &Program, clock: &BlockClock, hands: &Pianist) {
        self.waiting = None;
        self.slot =
            self.slot.and_then(|slot| slot_after(slot.at + Ticks(-1), program, clock, hands));
    }

    /// The home's bar was `before`. If it has moved the bar line or changed the
    /// metre, the next slot is looked up again in the new bars.
    pub fn mind_the_metre(
        &mut self,
        before: Place,
        program: &Program,
        clock: &BlockClock,
        hands: &Pianist,
    ) {
        let new = clock.place();
        let old = before.of(new.bar);
        let moved = old.metre != new.metre || old.bar != new.bar;
        if moved
            && program.song_in_bars().is_none()
            && let Some(slot) = self.slot
        {
            // Not one that was played already, and not one that is past.
            let past = clock.at(0) + Ticks(-1);
            let played = self.taken.map_or(past, |taken| taken.at);
            self.slot = slot_after(played.max(past).min(slot.at), program, clock, hands);
        }
    }
}

/// The first slot after `after`, across a bar line and a change of metre.
fn slot_after(
    after: Ticks,
    program: &Program,
    clock: &BlockClock,
    hands: &Pianist,
) -> Option<SlotAt> {
    let mut place = program.place_of(after + Ticks(1), clock.place());
    let mut from = after;
    // A pattern may leave a bar empty; one that is empty for longer than this has
    // no slots at all.
    for _ in 0..8 {
        let line = place.bar + place.metre.bar();
        let slot = hands.next_slot(place, from, program);
        if let Some(slot) = slot.filter(|slot| slot.grid < line) {
            return Some(slot);
        }
        from = line + Ticks(-1);
        place = program.place_of(line, clock.place());
    }
    None
}
