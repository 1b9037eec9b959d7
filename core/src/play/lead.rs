//! The notes that lead: before a sure change, the first rule that holds.

use super::reach::{PlayableKeys, cheapest, leap, pull};
use super::scale::Scale;
use super::{Moment, Pattern, Role, Wish, limits, room};
use crate::chord::Chord;
use crate::pitch::{KeyNumber, PitchClass};

/// A note that leads, and the key of the root that it leads to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Led {
    /// The note.
    pub key: KeyNumber,
    /// What it is to the chord that still holds.
    pub role: Role,
    /// Where the next root is to be struck.
    pub goal: KeyNumber,
}

/// From where a note leads: the hand as it is.
#[derive(Clone, Copy)]
pub struct From<'a> {
    /// What is heard and foreseen.
    pub moment: &'a Moment,
    /// The pattern, whose other notes need room around the next root.
    pub pattern: &'a Pattern,
    /// The keys that may sound.
    pub keyboard: PlayableKeys,
    /// The key struck last.
    pub last: KeyNumber,
    /// The root of the chord that still holds.
    pub home: KeyNumber,
}

/// The note by the rule that `wish` names, or by the first that holds of all
/// three; of passing notes only where one `passes`.
pub fn lead(wish: Wish, next: Chord, passes: bool, from: From<'_>) -> Option<Led> {
    let chord = from.moment.chord;
    match wish {
        Wish::Passing if !passes => None,
        Wish::Passing => {
            let class = Scale::of(from.moment.key, chord).between(chord.bass, next.bass)?;
            from.step(class, Role::Passing, next)
        }
        Wish::LeadFifth => {
            let class = chord.fifth().filter(|&fifth| fifth == next.bass && fifth != chord.bass)?;
            let keys = from.keyboard.keys(class);
            from.best(keys.map(|key| Led { key, role: Role::Fifth, goal: key }), next)
        }
        Wish::LeadThird => {
            let class = chord.third().filter(|&third| third != chord.bass)?;
            let apart = class.above(next.bass).min(next.bass.above(class));
            if !(1..=2).contains(&apart) {
                return None;
            }
            from.step(class, Role::Third, next)
        }
        Wish::Lead => [Wish::Passing, Wish::LeadFifth, Wish::LeadThird]
            .into_iter()
            .find_map(|rule| lead(rule, next, passes, from)),
        _ => None,
    }
}

/// The widest leap to a note that leads, in semitones: an octave and a step,
/// from the high root down to the note below the low one.
const WIDEST: f32 = 14.0;

/// What a note that leads may cost, in semitones of leap: beyond it a plain
/// tone of the chord sounds better. By ear.
const DEAREST: f32 = 22.0;

impl From<'_> {
    /// A key of `class` a step from a key of the next bass, both within reach.
    fn step(self, class: PitchClass, role: Role, next: Chord) -> Option<Led> {
        let pairs = self.keyboard.keys(class).flat_map(|key| {
            let near = move |by| self.keyboard.moved(key, by);
            let steps = [-2, -1, 1, 2].into_iter().filter_map(near);
            let goals = steps.filter(move |goal| goal.class() == next.bass);
            goals.map(move |goal| Led { key, role, goal })
        });
        self.best(pairs, next)
    }

    /// The candidate that keeps to the line of roots and leads where the next
    /// chord has room.
    fn best(self, candidates: impl Iterator<Item = Led>, next: Chord) -> Option<Led> {
        let clear = candidates.filter(|led| {
            // Over a slash bass what was struck last may be the root itself.
            let low = |under| limits::growls(under, led.key);
            let low_third = led.role == Role::Third && (low(self.home) || low(self.last));
            !low_third && leap(self.last, led.key) <= WIDEST
        });
        let cost = |led: &Led| {
            let way = 0.5 * leap(self.last, led.key) + 0.5 * leap(self.home, led.key);
            // A good step is worth a chord whose octaves find no room.
            let cramped = room::cramped(led.goal, self.pattern, next, self.keyboard);
            way + pull(led.goal) + 0.5 * cramped
        };
        cheapest(clear, cost).filter(|led| cost(led) <= DEAREST)
    }
}
