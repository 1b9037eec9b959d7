//! A pattern: when the left hand plays, and what it would like to play there.

use super::wish::{Wish, Wishes};
use crate::engine::Settings;
use crate::time::{Metre, Place, Ticks};

/// A place in the bar where the left hand may play.
#[derive(Clone, Debug, PartialEq)]
pub struct Slot {
    /// From the bar line, without swing.
    pub offset: Ticks,
    /// What it may play, the dearest first.
    pub wishes: Wishes,
    /// How busy the player must be for it to sound, 1..=100.
    pub from_busy: u8,
}

/// A slot at a time of the song.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SlotAt {
    /// When it sounds: swing applied.
    pub at: Ticks,
    /// Where it is counted: without swing.
    pub grid: Ticks,
    /// The bar that it lies in.
    pub place: Place,
    /// Its number in that bar, from 0.
    pub index: usize,
}

/// Compiled from a pattern file; fixed while it is in the engine.
#[derive(Clone, Debug, PartialEq)]
pub struct Pattern {
    /// As the player sees it.
    pub name: String,
    /// What it teaches or adds, in a sentence or two.
    pub about: String,
}

impl Pattern {
    /// The root on every beat. Allocates.
    pub fn default_boxed() -> Box<Self> {
        Box::new(Self { name: "Roots on the beat".into(), about: String::new() })
    }

    /// The first slot that sounds strictly after `after`, over bar lines; the
    /// bars after `place` go on in its metre. `None` if the pattern is empty.
    /// Real-time safe.
    pub fn next_slot(&self, place: Place, after: Ticks, _settings: &Settings) -> Option<SlotAt> {
        let place = place.of(after);
        let pulse = place.metre.pulse();
        let index = place.offset(after).0.div_euclid(pulse.0) + 1;
        let grid = place.bar + Ticks(pulse.0.saturating_mul(index));
        let place = place.of(grid);
        let index = usize::try_from(place.offset(grid).0 / pulse.0).unwrap_or(0);
        Some(SlotAt { at: grid, grid, place, index })
    }

    /// The slots of a bar in `metre`, in time order.
    pub fn slots(&self, metre: Metre) -> Vec<Slot> {
        let root: Wishes = [Wish::Root].into_iter().collect();
        (0..metre.bar().0 / metre.pulse().0)
            .map(|n| Slot {
                offset: Ticks(n * metre.pulse().0),
                wishes: root.clone(),
                from_busy: 1,
            })
            .collect()
    }
}
