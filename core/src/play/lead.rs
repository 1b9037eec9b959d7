//! The notes that lead: before a sure change, the first rule that holds.

use super::reach::{Keyboard, cheapest, leap, pull};
use super::scale::Scale;
use super::{Moment, Role, Wish, limits};
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

/// The note by the rule that `wish` names, or by the first that holds of all
/// three. `last` is the key struck last, `home` the root of this chord.
pub fn lead(
    wish: Wish,
    moment: &Moment,
    next: Chord,
    keyboard: Keyboard,
    last: KeyNumber,
    home: KeyNumber,
) -> Option<Led> {
    let chord = moment.chord;
    match wish {
        Wish::Passing => {
            let class = Scale::of(moment.key, chord).between(chord.bass, next.bass)?;
            step(class, Role::Passing, next.bass, keyboard, last, home)
        }
        Wish::LeadFifth => {
            let class = chord.fifth().filter(|&fifth| fifth == next.bass && fifth != chord.bass)?;
            let key = cheapest(keyboard.keys(class), |&key| leap(last, key) + pull(key))?;
            Some(Led { key, role: Role::Fifth, goal: key })
        }
        Wish::LeadThird => {
            let class = chord.third().filter(|&third| third != chord.bass)?;
            let apart = class.above(next.bass).min(next.bass.above(class));
            if !(1..=2).contains(&apart) {
                return None;
            }
            step(class, Role::Third, next.bass, keyboard, last, home)
        }
        Wish::Lead => [Wish::Passing, Wish::LeadFifth, Wish::LeadThird]
            .into_iter()
            .find_map(|rule| lead(rule, moment, next, keyboard, last, home)),
        _ => None,
    }
}

/// A key of `class` a step from a key of `goal`, both within reach.
fn step(
    class: PitchClass,
    role: Role,
    goal: PitchClass,
    keyboard: Keyboard,
    last: KeyNumber,
    home: KeyNumber,
) -> Option<Led> {
    let pairs = keyboard.keys(class).flat_map(|key| {
        let steps = [-2, -1, 1, 2].into_iter().filter_map(move |by| keyboard.moved(key, by));
        steps.filter(move |near| near.class() == goal).map(move |goal| Led { key, role, goal })
    });
    let clear = pairs.filter(|led| role != Role::Third || !limits::muddy(home, led.key));
    cheapest(clear, |led| leap(last, led.key) + pull(led.goal))
}
