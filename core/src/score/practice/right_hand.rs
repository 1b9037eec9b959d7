//! The right hand of an exercise: held chords, led from one to the next.

use crate::chord::Chord;
use crate::pitch::{KeyNumber, PitchClass, Semitones};

/// The hand stays between these keys: middle C and A5.
const RANGE: (i32, i32) = (60, 81);
/// Where it likes its middle to be, G4.
const HOME: f64 = 67.0;
/// Most fingers on one chord.
const MOST: usize = 4;

/// The keys of `chord` in close position, in the inversion that is nearest to
/// `last` (its keys, if any) and to the middle of the staff. From low to high.
#[must_use]
pub fn voicing(chord: Chord, last: &[KeyNumber]) -> Vec<KeyNumber> {
    let classes = classes(chord);
    let mut best: Option<(f64, Vec<i32>)> = None;
    for (turn, lowest) in classes.iter().enumerate() {
        for octave in [60, 72] {
            let mut key = octave + lowest.index() as i32;
            let mut keys = vec![key];
            for next in classes.iter().cycle().skip(turn + 1).take(classes.len() - 1) {
                key += i32::from(next.above(PitchClass::new(key)).max(1));
                keys.push(key);
            }
            if keys.iter().any(|key| !(RANGE.0..=RANGE.1).contains(key)) {
                continue;
            }
            let cost = cost(&keys, last);
            if best.as_ref().is_none_or(|(least, _)| cost < *least) {
                best = Some((cost, keys));
            }
        }
    }
    best.map_or(Vec::new(), |(_, keys)| keys.into_iter().map(KeyNumber::clamped).collect())
}

/// The tones that four fingers hold, upward from the root: the fifth is left
/// out first, then the root, which the left hand has (common practice).
fn classes(chord: Chord) -> Vec<PitchClass> {
    let mut classes: Vec<PitchClass> = (0..12)
        .map(|above| chord.root.transpose(Semitones(above)))
        .filter(|class| chord.tones().has(*class))
        .collect();
    let fifth = chord.root.transpose(Semitones(7));
    for spare in [fifth, chord.root] {
        if classes.len() > MOST {
            classes.retain(|class| *class != spare);
        }
    }
    classes.truncate(MOST);
    if classes.is_empty() {
        classes.push(chord.root);
    }
    classes
}

fn cost(keys: &[i32], last: &[KeyNumber]) -> f64 {
    let middle = |keys: &[i32]| keys.iter().sum::<i32>() as f64 / keys.len().max(1) as f64;
    let home = (middle(keys) - HOME).abs();
    if last.is_empty() {
        return home;
    }
    let last: Vec<i32> = last.iter().map(|key| i32::from(key.number())).collect();
    let nearest = |key: &i32| last.iter().map(|other| (key - other).abs()).min().unwrap_or(0);
    let moved: i32 = keys.iter().map(nearest).sum();
    f64::from(moved) + 0.4 * home
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chord::Kind;

    #[test]
    fn chords_are_led_by_the_smallest_way() {
        let chord = |root, kind| Chord::new(PitchClass::new(root), kind);
        let mut last = Vec::new();
        let mut told = Vec::new();
        for next in [
            chord(0, Kind::Major),
            chord(9, Kind::Minor),
            chord(5, Kind::Major),
            chord(7, Kind::Dominant),
        ] {
            last = voicing(next, &last);
            told.push(last.iter().map(|key| key.number()).collect::<Vec<_>>());
        }
        assert_eq!(
            told,
            [[64, 67, 72].as_slice(), &[64, 69, 72], &[65, 69, 72], &[65, 67, 71, 74]]
        );
    }

    #[test]
    fn every_chord_fits_one_hand_above_the_split() {
        for kind in Kind::ALL {
            for root in 0..12 {
                let keys = voicing(Chord::new(PitchClass::new(root), *kind), &[]);
                assert!((1..=4).contains(&keys.len()), "{kind:?}");
                let (low, high) = (keys[0], keys[keys.len() - 1]);
                assert!(low.number() >= 60 && high.distance(low).0 <= 14, "{kind:?} {keys:?}");
            }
        }
    }
}
