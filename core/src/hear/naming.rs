//! Naming: a set of pitch classes, what is lowest, and a context, to a chord.

use arrayvec::ArrayVec;

use super::Expected;
use crate::chord::{Chord, Kind};
use crate::key::Key;
use crate::pitch::{KeyNumber, PitchClass, PitchSet, Semitones};

/// What helps where the notes alone are ambiguous.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Context {
    /// The key, if it is known.
    pub key: Option<Key>,
    /// The chord before.
    pub before: Option<Chord>,
    /// What was foreseen.
    pub expected: Option<Expected>,
}

/// A name with how sure it is.
#[derive(Clone, Debug, PartialEq)]
pub struct Naming {
    /// The best name; its bass is the root: a right hand's lowest note is an
    /// inversion, not a slash bass.
    pub chord: Chord,
    /// How sure its root is, 0..=1.
    pub certainty: f32,
    /// Other names in falling order, each on another root.
    pub alternatives: ArrayVec<Chord, 3>,
}

/// Names a set of pitch classes; `None` if it is empty. Real-time safe.
pub fn name(set: PitchSet, lowest: PitchClass, _context: &Context) -> Option<Naming> {
    if set.is_empty() {
        return None;
    }
    let best = set
        .iter()
        .flat_map(|root| Kind::ALL.iter().map(move |&kind| Chord::new(root, kind)))
        .min_by_key(|chord| {
            let tones = chord.tones();
            (set.minus(tones).len() * 3 + tones.minus(set).len() * 2, chord.root != lowest)
        })?;
    Some(Naming { chord: best, certainty: 0.5, alternatives: ArrayVec::new() })
}

/// Names keys (bit n is key n); `None` if there is none. Real-time safe.
pub fn name_keys(keys: u128, context: &Context) -> Option<Naming> {
    if keys == 0 {
        return None;
    }
    let lowest = KeyNumber::clamped(keys.trailing_zeros() as i32).class();
    name(classes(keys), lowest, context)
}

/// The pitch classes of a set of keys.
pub fn classes(keys: u128) -> PitchSet {
    // Fold the octaves: 128 = 10 octaves and 8 keys.
    let folded = (0..11).fold(0u16, |set, octave| set | (keys >> (12 * octave)) as u16 & 0xFFF);
    PitchSet::from_bits(folded).transpose(Semitones(0))
}
