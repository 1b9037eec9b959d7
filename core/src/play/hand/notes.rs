//! What was chosen as notes: how loud, how long, one after the other where the hand rolls.

use super::{Decision, LOOK_OVER, LeftHand, sure_change};
use crate::maths;
use crate::play::part::{Held, Voice};
use crate::play::why::{Rule, Why};
use crate::play::{Moment, Note, Pattern, Role, SlotAt, Stroke, dynamics};
use crate::settings::Settings;
use crate::time::Ticks;

/// The longest note, in bars: a root that nothing follows.
const LONGEST: i64 = 2;

/// How soon after each other the notes of a rolled stroke are struck, in
/// milliseconds. By ear: a tenth in the time in which a chord is struck.
const ROLL_MS: f64 = 35.0;

/// How loud the upper voice is beside the bass: pianists bring out the bass a
/// little. By ear.
const ABOVE: f32 = 0.9;

/// How much harder an accent is struck. By ear.
const ACCENT: f32 = 1.2;

impl LeftHand {
    /// When what `voice` just struck ends if it is held as long as it can be: at
    /// its next slot that will sound (or rests), or a sure change.
    fn end(
        &self,
        voice: Voice,
        pattern: &Pattern,
        from: SlotAt,
        moment: &Moment,
        settings: &Settings,
    ) -> Ticks {
        let sure = sure_change(moment, settings).filter(|next| next.at > from.grid);
        let longest = moment.at + Ticks(LONGEST * from.place.metre.bar().0);
        let longest = sure.map_or(longest, |next| next.at.min(longest));
        let later = Moment { starts: false, ..*moment };
        let mut at = from;
        for _ in 0..LOOK_OVER {
            match pattern.next_slot(from.place, at.at, settings) {
                Some(slot) if slot.at < longest => at = slot,
                _ => break,
            }
            let slot = pattern.slot(&at, settings.seed);
            let part = slot.and_then(|slot| pattern.part(slot, voice));
            let ends = match part {
                None => false,
                Some(part) if part.is_rest() || pattern.has_two_voices() => {
                    slot.is_some_and(|slot| settings.busy >= slot.from_busy)
                }
                Some(_) => {
                    let there = Moment { at: at.at, place: at.place, ..later };
                    self.decide(pattern, at, &there, settings).is_some()
                }
            };
            if ends {
                return at.at;
            }
        }
        longest
    }

    /// What was chosen at `slot` as notes.
    pub(super) fn notes(
        &self,
        choice: &Decision,
        pattern: &Pattern,
        at: SlotAt,
        moment: &Moment,
        settings: &Settings,
    ) -> Stroke {
        let slot = pattern.slot(&at, settings.seed);
        let level = slot.map_or(0, |slot| slot.level);
        let struck = dynamics::velocity(moment.loudness, level, moment.starts, settings);
        let louder = |by: f32| maths::velocity(f32::from(struck) * by);
        let roll = Ticks::of_ms(ROLL_MS, moment.tempo);
        let parts = [Voice::Bass, Voice::Tenor]
            .map(|voice| slot.and_then(|slot| pattern.part(slot, voice)));
        let keys = || choice.bass.iter().chain(&choice.tenor).map(|(key, _)| *key);
        let span = keys().max().zip(keys().min()).map_or(0, |(high, low)| high.distance(low).0);
        let rolled =
            span > i32::from(settings.reach) || parts.iter().flatten().any(|part| part.rolled);
        let why = self.why(choice, pattern, at, moment, rolled, settings);
        let mut stroke = Stroke::new();
        for (voice, grip, part) in
            [(Voice::Bass, &choice.bass, parts[0]), (Voice::Tenor, &choice.tenor, parts[1])]
        {
            if grip.is_empty() {
                continue;
            }
            let velocity = match (voice, part.is_some_and(|part| part.accent)) {
                (Voice::Bass, false) => struck,
                (Voice::Bass, true) => louder(ACCENT),
                (Voice::Tenor, false) => louder(ABOVE),
                (Voice::Tenor, true) => louder(ABOVE * ACCENT),
            };
            let end = self.end(voice, pattern, at, moment, settings);
            let until = until(part.map_or(Held::Usual, |part| part.held), end, moment, settings);
            for &(key, role) in grip {
                let later = if rolled { Ticks(roll.0 * stroke.len() as i64) } else { Ticks::ZERO };
                let from = moment.at + later;
                let until = until.max(from + Ticks(1));
                let _ = stroke.try_push(Note { key, velocity, role, voice, from, until, why });
            }
        }
        stroke
    }

    /// Why that was chosen.
    fn why(
        &self,
        choice: &Decision,
        pattern: &Pattern,
        at: SlotAt,
        moment: &Moment,
        rolled: bool,
        settings: &Settings,
    ) -> Why {
        let passes = choice.lowest().is_some_and(|(_, role)| role == Role::Passing);
        let rule = match () {
            () if passes => Rule::Passes,
            () if choice.goal.is_some() => Rule::Leads,
            () if moment.starts => Rule::Tells,
            () => Rule::Written,
        };
        Why { rule, rolled, ..pattern.why(at.place, settings.seed) }
    }
}

/// When a note is let go that could be held to `end`.
fn until(held: Held, end: Ticks, moment: &Moment, settings: &Settings) -> Ticks {
    let from = moment.at;
    let whole = (end - from).0 as f64;
    let part = |part: f64| from + Ticks(maths::whole(libm::round(whole * part)).max(1));
    let sure = sure_change(moment, settings).filter(|next| next.at > from);
    match held {
        Held::Usual => part(f64::from(settings.length.clamp(0.05, 1.0))),
        Held::Detached => part(0.5),
        Held::Joined => end,
        Held::For(length) => sure.map_or(from + length, |next| next.at.min(from + length)).min(end),
        Held::Change => end,
    }
}
