//! Naming: a set of pitch classes, what is lowest, and a context, to a chord.
//!
//! Exact sets first: a set that is exactly a complete chord is that chord, and
//! the context decides only where several roots fit (C6 = Am7, sus2 = sus4,
//! diminished sevenths, augmented triads), where tones are missing or added, or
//! where no chord fits.

#![allow(clippy::indexing_slicing, reason = "each table has a place for every interval and set")]

mod songs;
pub(super) mod tables;
mod vocabulary;
mod weights;

use arrayvec::ArrayVec;

use self::tables::{FIT, ROW, seen_from, speaks_for, tier_of};
use self::vocabulary::{Tier, VOCABULARY};
use crate::chord::{Chord, Quality};
use crate::key::{Key, Mode};
use crate::maths;
use crate::pitch::{KeyNumber, PitchClass, PitchSet};

/// What helps where the notes alone are ambiguous.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Context {
    /// The key, if it is known.
    pub key: Option<Key>,
    /// The chord before.
    pub before: Option<Chord>,
}

/// A name with how sure it is.
#[derive(Clone, Debug, PartialEq)]
pub struct Naming {
    /// The best name; its bass is the root: a right hand's lowest note is an
    /// inversion, not a slash bass.
    pub chord: Chord,
    /// How sure its root is, 0..=1, any left hand below it counted in: in
    /// songs, E minor is now and then the upper part of C.
    pub certainty: f32,
    /// Other names, the likelier first, each on another root, and how sure each is.
    pub alternatives: ArrayVec<(Chord, f32), 3>,
}

/// What is less likely is no name.
const LIKELY: f32 = 0.04;

/// Names a set of pitch classes; `None` if it is empty. Real-time safe.
pub fn name(set: PitchSet, lowest: PitchClass, context: &Context) -> Option<Naming> {
    if set.is_empty() {
        return None;
    }
    let exact = tables::exact(set.bits());
    let mut odds = [0.0; 12];
    weigh(&mut odds, |root| score(set, lowest, context, exact, root));
    let likeliest = |roots: u16| {
        each(roots).fold(None, |best: Option<usize>, root| match best {
            Some(b) if odds[b] >= odds[root] => Some(b),
            _ => Some(root),
        })
    };
    let named = |root: usize| {
        let root = PitchClass::at(root);
        (Chord { root, quality: quality(set, root), bass: root }, odds[root.index()])
    };
    let best = likeliest(possible(exact, context))?;
    let mut left = 0xFFF & !(1 << best);
    let others = core::iter::from_fn(|| {
        let next = likeliest(left).filter(|&next| odds[next] >= LIKELY)?;
        left &= !(1 << next);
        Some(named(next))
    });
    let alternatives = others.take(3).collect();
    let (chord, certainty) = named(best);
    Some(Naming { chord, certainty, alternatives })
}

/// The roots that it can be named on, bit n for root n: only those on which the
/// set is exactly a chord where that is complete, or where nothing is known that
/// could tell another.
fn possible(exact: u16, context: &Context) -> u16 {
    let bare = context.key.is_none() && context.before.is_none();
    let only_exact = tier_of(exact).is_some_and(|tier| tier == Tier::Plain || bare);
    if only_exact { exact & 0xFFF } else { 0xFFF }
}

/// The roots of a set; bit n is root n.
fn each(mut roots: u16) -> impl Iterator<Item = usize> {
    core::iter::from_fn(move || {
        let root = roots.trailing_zeros() as usize;
        roots &= roots.wrapping_sub(1);
        (root < 12).then_some(root)
    })
}

/// How much everything speaks for a root, in nats.
fn score(set: PitchSet, lowest: PitchClass, context: &Context, exact: u16, root: usize) -> f32 {
    let tier = tier_of(exact);
    let fits = exact >> root & 1 == 1;
    let class = PitchClass::at(root);
    let seen = seen_from(set.bits(), root);
    let low = usize::from(lowest.above(class));
    let mut score = speaks_for(seen) + weights::LOWEST[low];
    let row = usize::from(ROW[usize::from(seen)]);
    // Of the tables of songs.
    let mut steps = songs::LOWEST.get(row).map_or(0, |row| i32::from(row[low]));
    if fits && tier == Some(Tier::NoFifth) {
        score += weights::NO_FIFTH[0];
    }
    let degree = context.key.map(|key| {
        let (mode, above) = (usize::from(key.mode == Mode::Minor), class.above(key.tonic));
        score += weights::DEGREE[mode][usize::from(above)];
        12 * mode + usize::from(above)
    });
    if let (Some(degree), Some(row)) = (degree, songs::DEGREE.get(row)) {
        steps += i32::from(row[degree]);
    }
    if let Some(before) = context.before {
        let minor = before.third().is_some_and(|third| third.above(before.root) == 3);
        let (minor, above) = (usize::from(minor), usize::from(class.above(before.root)));
        score += weights::STEP[minor][above];
        let step = 12 * minor + above;
        steps += songs::STEP.get(row).map_or(0, |row| i32::from(row[step]));
        steps += degree.map_or(0, |degree| i32::from(songs::TOGETHER[degree][step]));
    }
    score + steps as f32 / 32.0
}

/// Odds of the roots, which add up to 1, by what speaks for them, in nats.
fn weigh(odds: &mut [f32; 12], nats: impl Fn(usize) -> f32) {
    *odds = core::array::from_fn(nats);
    let most = odds.iter().copied().fold(f32::NEG_INFINITY, f32::max);
    odds.iter_mut().for_each(|odd| *odd = maths::exp(*odd - most));
    let sum: f32 = odds.iter().sum();
    odds.iter_mut().for_each(|odd| *odd /= sum);
}

/// The quality that fits `set` best on `root`. Real-time safe.
pub fn quality(set: PitchSet, root: PitchClass) -> Quality {
    let seen = seen_from(set.bits(), root.index());
    VOCABULARY[usize::from(FIT[usize::from(seen)])].quality()
}

/// Names keys (bit n is key n); `None` if there is none. Real-time safe.
///
/// ```
/// use sinistra_core::chord::Symbol;
/// use sinistra_core::hear::{Context, name_keys};
/// use sinistra_core::key::Key;
///
/// // E4, G4 and C5: the root is C, whatever is lowest.
/// let keys = 1 << 64 | 1 << 67 | 1 << 72;
/// let context = Context { key: Some(Key::C_MAJOR), ..Context::default() };
/// let naming = name_keys(keys, &context).expect("keys are down");
/// assert_eq!(Symbol::of(naming.chord, Key::C_MAJOR).to_string(), "C");
/// assert!(naming.certainty > 0.5);
/// ```
pub fn name_keys(keys: u128, context: &Context) -> Option<Naming> {
    if keys == 0 {
        return None;
    }
    let lowest = KeyNumber::clamped(keys.trailing_zeros() as i32).class();
    name(classes(keys), lowest, context)
}

/// The pitch classes of a set of keys.
pub fn classes(keys: u128) -> PitchSet {
    // Fold the octaves: 128 keys are ten octaves and eight keys.
    let folded = (0..11).fold(0, |set, octave| set | keys >> (12 * octave)) & 0xFFF;
    PitchSet::from_bits(u16::try_from(folded).unwrap_or(0))
}

#[cfg(test)]
mod tests;
