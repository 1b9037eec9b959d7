//! The last root, held; and a root at once, off the figure.

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
        let stroke = self.root_now(moment, settings);
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

    /// The root (or slash bass) at once, off the figure. Real-time safe.
    pub(super) fn root_now(&mut self, moment: &Moment, settings: &Settings) -> Stroke {
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
        self.notes(&keys, self.why(here, Rule::Tells), moment, settings)
    }
}
