//! What lies ahead of a slot: a sure change, no change, or who knows.

use super::accent;
use super::slot::SlotAt;
use crate::chord::Chord;
use crate::foresee::{Forecast, Source};
use crate::settings::Settings;
use crate::time::Ticks;

/// How far a forecast may lie off the grid and still mean the slot: a
/// thirty-second note.
const NEAR: Ticks = Ticks(Ticks::PER_BEAT / 8);

/// What is to come between a slot and the one after it (that one included).
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Following {
    /// This chord surely holds on.
    Stays,
    /// This is the last slot before a sure change.
    Changes {
        /// To this chord.
        next: Chord,
        /// So surely that a note may pass: it is foreign to the chord that holds, right
        /// only if the next one comes, and so, where that is a guess, has half the doubt
        /// of one that leads.
        passes: bool,
    },
    /// A change may come: only what is right whatever comes.
    Unknown,
}

impl Following {
    /// Looks from `slot` to `following`, the next slot that counts.
    pub fn of(
        slot: SlotAt,
        following: Ticks,
        next: Option<&Forecast>,
        settings: &Settings,
    ) -> Self {
        let may_change = if strong(slot, following) { Self::Unknown } else { Self::Stays };
        let Some(next) = next else { return may_change };
        let sure = next.together >= settings.certainty;
        if next.at <= slot.grid + NEAR {
            // Overdue: it can come at any time.
            Self::Unknown
        } else if next.at > following + NEAR {
            if sure { Self::Stays } else { may_change }
        } else if sure && next.at - slot.grid <= slot.place.metre.pulse() {
            let heard = next.source == Source::LookAhead;
            let passes = heard || next.together >= (1.0 + settings.certainty) / 2.0;
            Self::Changes { next: next.chord, passes }
        } else {
            Self::Unknown
        }
    }
}

/// Whether chords like to change at `at`, or between `slot` and it: a bar line
/// or the next strongest beat.
fn strong(slot: SlotAt, at: Ticks) -> bool {
    let place = slot.place.of(at);
    place.bar > slot.place.bar
        || accent::beats(place.metre).iter().any(|beat| {
            beat.level <= 1 && slot.grid < place.bar + beat.start && place.bar + beat.start <= at
        })
}
