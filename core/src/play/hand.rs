//! The left hand: remembers where it is, decides what to strike.

use arrayvec::ArrayVec;

use super::{Moment, Note, Pattern, Role, SlotAt, Stroke};
use crate::engine::{Settings, SlotView};
use crate::pitch::{KeyNumber, Semitones};
use crate::time::Ticks;

/// Where pianists' left hands lie: A2, the median of the lowest left-hand notes
/// of 119 pop songs (POP909-CL, 111,070 notes).
const MIDDLE: i32 = 45;

/// The memory of the left hand. Small and plain: copy it to try something out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct LeftHand {
    /// The last key struck (the lowest of an octave).
    last: Option<KeyNumber>,
}

impl LeftHand {
    /// A hand that has not played yet.
    pub const fn new() -> Self {
        Self { last: None }
    }

    /// Forgets where it was: a jump, a stop, a new song. Real-time safe.
    pub fn reset(&mut self) {
        *self = Self::new();
    }

    /// What to strike at `slot`; empty is a rest. Remembers it as struck.
    /// Notes start at `moment.at`. Real-time safe.
    pub fn stroke(
        &mut self,
        pattern: &Pattern,
        slot: SlotAt,
        moment: &Moment,
        settings: &Settings,
    ) -> Stroke {
        let next = pattern.next_slot(slot.place, slot.at, settings).map_or(slot.at, |s| s.at);
        self.root(moment, next, settings)
    }

    /// The root (or slash bass) at once, off the grid: a change between slots,
    /// or a correction. It lasts until the next stroke, two beats at the most.
    /// Real-time safe.
    pub fn root_now(&mut self, moment: &Moment, settings: &Settings) -> Stroke {
        self.root(moment, moment.at + Ticks(2 * Ticks::PER_BEAT), settings)
    }

    /// What each slot of the bar at `moment.place` is likely to play if the
    /// forecast comes true; the hand itself does not move. Real-time safe.
    pub fn preview(
        mut self,
        pattern: &Pattern,
        moment: &Moment,
        settings: &Settings,
    ) -> ArrayVec<SlotView, 48> {
        let mut views = ArrayVec::new();
        let bar = moment.place.bar;
        let end = bar + moment.place.metre.bar();
        let mut after = bar - Ticks(1);
        while let Some(slot) = pattern.next_slot(moment.place, after, settings) {
            if slot.grid >= end || views.is_full() {
                break;
            }
            let role = self
                .stroke(pattern, slot, &Moment { at: slot.at, ..*moment }, settings)
                .first()
                .map(|n| n.role);
            views.push(SlotView { at: slot.at, role, key: None });
            after = slot.at;
        }
        views
    }

    fn root(&mut self, moment: &Moment, next: Ticks, settings: &Settings) -> Stroke {
        let mut stroke = Stroke::new();
        let near = self.last.map_or(MIDDLE, |key| i32::from(key.number()));
        let role = if moment.chord.bass == moment.chord.root { Role::Root } else { Role::Bass };
        let key = (settings.lowest.number()..=settings.highest.number())
            .filter_map(KeyNumber::new)
            .filter(|&key| key.class() == moment.chord.bass && key < moment.ceiling)
            .min_by_key(|key| {
                let Semitones(from_last) = key.distance(KeyNumber::clamped(near));
                let Semitones(from_middle) = key.distance(KeyNumber::clamped(MIDDLE));
                from_last.abs() * 4 + from_middle.abs()
            });
        if let Some(key) = key {
            self.last = Some(key);
            let length = (next - moment.at).0 as f64 * f64::from(settings.length);
            let velocity = (f32::from(moment.loudness) * settings.loudness).clamp(1.0, 127.0) as u8;
            let until = moment.at + Ticks((length as i64).max(1));
            stroke.push(Note { key, velocity, role, from: moment.at, until });
        }
        stroke
    }
}
