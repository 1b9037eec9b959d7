//! Where the bars are and which slot of the pattern comes next.

use super::Engine;
use crate::foresee::Song;
use crate::play::SlotAt;
use crate::time::{Place, Ticks};

impl Engine {
    /// The chart, if the home's bars are its bars.
    pub(super) fn song_in_bars(&self) -> Option<&Song> {
        self.song.as_deref().filter(|_| !self.by_hand)
    }

    /// The bar that holds `at`: the chart's if there is one, else the home's.
    pub(super) fn place_of(&self, at: Ticks) -> Place {
        match self.song_in_bars() {
            Some(song) => song.place(at),
            None => self.place.of(at),
        }
    }

    /// The first slot after `after`, across a bar line and a change of metre.
    pub(super) fn slot_after(&self, after: Ticks) -> Option<SlotAt> {
        let mut place = self.place_of(after + Ticks(1));
        let mut from = after;
        // A pattern may leave a bar empty; one that is empty for longer than
        // this has no slots at all.
        for _ in 0..8 {
            let line = place.bar + place.metre.bar();
            let slot = if self.pattern.improvises(place.metre) {
                Some(self.free.next_slot(place, from, &self.settings))
            } else {
                self.pattern.next_slot(place, from, &self.settings)
            };
            if let Some(slot) = slot.filter(|slot| slot.grid < line) {
                return Some(slot);
            }
            from = line + Ticks(-1);
            place = self.place_of(line);
        }
        None
    }

    /// The home has moved the bar line or changed the metre: the next slot is
    /// looked up again in the new bars.
    pub(super) fn mind_the_metre(&mut self) {
        let new = self.clock.place();
        let old = self.place.of(new.bar);
        let moved = old.metre != new.metre || old.bar != new.bar;
        self.place = new;
        if moved
            && self.song_in_bars().is_none()
            && let Some(slot) = self.slot
        {
            let now = self.clock.at(0);
            // Not one that was played already, and not one that is past.
            let played = self.taken.map_or(now + Ticks(-1), |taken| taken.at);
            self.slot = self.slot_after(played.max(now + Ticks(-1)).min(slot.at));
        }
    }
}
