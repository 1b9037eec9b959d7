//! The walking bass: chord tones on the strong beats, steps between, and a step
//! into the next root.
//!
//! Common practice of jazz bass lines: the root on the change; the third beat a
//! chord tone; the last beat before a change a half or whole step from the new
//! root; never the same note twice.

use super::ahead::Following;
use super::reach::{PlayableKeys, cheapest, leap};
use super::scale::Scale;
use super::{Moment, Role, Wish, limits, tones};
use crate::chord::Chord;
use crate::pitch::{KeyNumber, PitchClass};

/// A step, and the key of the root that it leads to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Step {
    /// The key.
    pub key: KeyNumber,
    /// What it is to the chord.
    pub role: Role,
    /// Where the next root is to be struck.
    pub goal: Option<KeyNumber>,
}

/// The next step from `last`, around the root at `home`. `strong`: the place asks
/// for a tone of the chord.
pub fn step(
    moment: &Moment,
    ahead: Following,
    strong: bool,
    keyboard: PlayableKeys,
    (last, home): (KeyNumber, KeyNumber),
) -> Option<Step> {
    let chord = moment.chord;
    let scale = Scale::of(moment.key, chord);
    // Elevenths and altered ninths pass by.
    let named = |class: PitchClass| {
        let role = tones::role(chord, class);
        chord.tones().has(class) && (role != Role::Root || class == chord.root)
    };
    let role = |class: PitchClass| match () {
        () if class == home.class() => Role::Octave,
        () if named(class) => tones::role(chord, class),
        () => Role::Passing,
    };
    // What may still be taken back is right whatever comes.
    let safe = [Wish::Root, Wish::Fifth].into_iter();
    let safe = safe.filter_map(|wish| match wish {
        Wish::Root => Some(home.class()),
        wish => tones::tone(chord, wish).map(|(class, _)| class),
    });
    let plain = |key: KeyNumber| Step { key, role: role(key.class()), goal: None };
    let moves = |key: &KeyNumber| moves(last, *key, keyboard);
    // Up from the root and down again, within an octave of it.
    let up = last <= home || (last.distance(home).0 < 7 && moment.place.number % 2 == 0);
    let turns = move |key: KeyNumber| if (key > last) == up { 0.0 } else { 3.0 };
    let around = move |key: KeyNumber| (leap(home, key) - 12.0).max(0.0);
    match ahead {
        Following::Changes { next, .. } => {
            let (key, goal) = approach(next, scale, keyboard, (last, home))?;
            Some(Step { goal: Some(goal), ..plain(key) })
        }
        Following::Unknown => {
            let keys = safe.flat_map(|class| keyboard.keys(class)).filter(moves);
            cheapest(keys, |&key| leap(last, key) + turns(key) + around(key)).map(plain)
        }
        Following::Stays if strong => {
            let classes = chord.tones().iter().filter(|class| named(*class));
            let keys = classes.flat_map(|class| keyboard.keys(class)).filter(moves);
            let clear = keys.filter(|key| !limits::growls(home.min(*key), home.max(*key)));
            cheapest(clear, |&key| leap(last, key) + turns(key) + around(key)).map(plain)
        }
        Following::Stays => {
            let steps = [-2, -1, 1, 2].into_iter().filter_map(|by| keyboard.moved(last, by));
            let steps = steps.filter(|key| scale.has(key.class()));
            cheapest(steps, |&key| turns(key) + around(key)).map(plain)
        }
    }
}

/// Whether the hand gets from `last` to `key`, another one, and the two do not growl.
fn moves(last: KeyNumber, key: KeyNumber, keyboard: PlayableKeys) -> bool {
    let third = (3.0..=4.0).contains(&leap(last, key));
    let growls = third && limits::growls(last.min(key), last.max(key));
    key != last && leap(last, key) <= keyboard.hand() && !growls
}

/// The step into the next root, and that root's key.
fn approach(
    next: Chord,
    scale: Scale,
    keyboard: PlayableKeys,
    (last, home): (KeyNumber, KeyNumber),
) -> Option<(KeyNumber, KeyNumber)> {
    let goals = keyboard.keys(next.bass).filter(|goal| leap(last, *goal) <= 12.0);
    let steps = goals.flat_map(|goal| {
        let near = [-1, 1, -2, 2].into_iter();
        near.filter_map(move |by| Some((keyboard.moved(goal, by)?, goal, by)))
    });
    // A whole step has to be the scale's, a half step need not.
    let steps = steps.filter(|&(key, _, by)| {
        moves(last, key, keyboard) && (scale.has(key.class()) || by == -1 || by == 1)
    });
    let (key, goal, _) = cheapest(steps, |&(key, goal, _)| {
        let foreign = if scale.has(key.class()) { 0.0 } else { 1.5 };
        leap(last, key) + 0.3 * leap(home, goal) + foreign
    })?;
    Some((key, goal))
}
