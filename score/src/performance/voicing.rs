//! Chords under one right hand, close to one another.

use arrayvec::ArrayVec;

use sinistra_core::chord::{Chord, Kind};
use sinistra_core::pitch::{KeyNumber, PitchClass, PitchSet};

/// Four fingers' worth of keys, ascending.
pub(super) type Voicing = ArrayVec<KeyNumber, 4>;

/// Semitones above the split at which a hand lies at ease (by ear: the thumb
/// near middle C, the little finger about an octave above).
const CENTRE: i32 = 8;

/// The close position of `chord` that moves least from `before`; every key at
/// or above `split`.
pub(super) fn close_to(before: &Voicing, chord: Chord, split: KeyNumber) -> Voicing {
    let classes: ArrayVec<PitchClass, 12> = fingers(chord).iter().collect();
    let mut best: Option<(i32, Voicing)> = None;
    for lowest in 0..16 {
        let Some(bottom) = KeyNumber::new(split.number().saturating_add(lowest)) else { break };
        if !classes.contains(&bottom.class()) {
            continue;
        }
        let mut keys: Voicing = classes
            .iter()
            .filter_map(|class| {
                KeyNumber::new(bottom.number().saturating_add(class.above(bottom.class())))
            })
            .collect();
        keys.sort_unstable();
        let cost = cost(before, &keys, split);
        if best.as_ref().is_none_or(|(least, _)| cost < *least) {
            best = Some((cost, keys));
        }
    }
    best.map(|(_, keys)| keys).unwrap_or_default()
}

/// How far the fingers move, and how far from its ease the hand lies.
fn cost(before: &Voicing, keys: &Voicing, split: KeyNumber) -> i32 {
    let far = |key: &KeyNumber, others: &Voicing| {
        others.iter().map(|other| key.distance(*other).0.abs()).min().unwrap_or(0)
    };
    let moved: i32 = keys.iter().map(|key| far(key, before)).sum::<i32>()
        + before.iter().map(|key| far(key, keys)).sum::<i32>();
    let count = i32::try_from(keys.len()).unwrap_or(1).max(1);
    let middle = keys.iter().map(|key| key.distance(split).0).sum::<i32>() / count;
    3 * moved + 2 * (middle - CENTRE).abs()
}

/// The tones that a right hand takes: all of a chord of four, and of a larger
/// one those that tell it from others — root, third, seventh, and its colour.
fn fingers(chord: Chord) -> PitchSet {
    let tones = chord.tones();
    if tones.len() <= 4 {
        return tones;
    }
    let colours = if chord.quality.kind() == Kind::MajorSixth {
        [9, 2, 7, 0] // 6/9: sixth and ninth
    } else {
        [1, 3, 8, 6] // ♭9 ♯9 ♭13 ♯11 first, then the natural ones below
    };
    let colour = colours
        .into_iter()
        .chain([9, 2, 5, 7])
        .map(|above| chord.root.transpose(sinistra_core::pitch::Semitones(above)))
        .filter(|class| tones.has(*class));
    let wanted =
        [Some(chord.root), chord.third(), chord.seventh()].into_iter().flatten().chain(colour);
    let mut hand = PitchSet::EMPTY;
    for class in wanted {
        if hand.len() < 4 {
            hand = hand.with(class);
        }
    }
    hand
}
