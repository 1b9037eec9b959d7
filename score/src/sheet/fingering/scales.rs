//! Scales, fingered as printed. The rules alone do not find these: that the thumb goes
//! on white keys and the fourth finger comes once in an octave is an agreement.

use super::FingerGrip;
use super::table::is_black;
use sinistra_core::pitch::{KeyNumber, PitchClass};

/// So many steps are more than the five fingers have keys for.
const RUN: usize = 6;
/// The widest step: the augmented second of a harmonic minor scale.
const STEP: i32 = 3;

/// Semitones of the degrees above the tonic.
const MAJOR: [usize; 7] = [0, 2, 4, 5, 7, 9, 11];
const NATURAL: [usize; 7] = [0, 2, 3, 5, 7, 8, 10];
const HARMONIC: [usize; 7] = [0, 2, 3, 5, 7, 8, 11];

/// The left hand's fingers on the degrees of the scale on each tonic, as they stand in
/// the middle of it. Source: C.-L. Hanon, "The Virtuoso Pianist" (1873), no. 39, as
/// books of scales have them since (from memory).
#[rustfmt::skip]
const OF_MAJOR: [[u8; 7]; 12] = [
    [1, 4, 3, 2, 1, 3, 2], // C
    [3, 2, 1, 4, 3, 2, 1], // D flat
    [1, 4, 3, 2, 1, 3, 2], // D
    [3, 2, 1, 4, 3, 2, 1], // E flat
    [1, 4, 3, 2, 1, 3, 2], // E
    [1, 4, 3, 2, 1, 3, 2], // F
    [4, 3, 2, 1, 3, 2, 1], // F sharp
    [1, 4, 3, 2, 1, 3, 2], // G
    [3, 2, 1, 4, 3, 2, 1], // A flat
    [1, 4, 3, 2, 1, 3, 2], // A
    [3, 2, 1, 4, 3, 2, 1], // B flat
    [1, 3, 2, 1, 4, 3, 2], // B
];
#[rustfmt::skip]
const OF_MINOR: [[u8; 7]; 12] = [
    [1, 4, 3, 2, 1, 3, 2], // C
    [3, 2, 1, 4, 3, 2, 1], // C sharp
    [1, 4, 3, 2, 1, 3, 2], // D
    [2, 1, 4, 3, 2, 1, 3], // E flat
    [1, 4, 3, 2, 1, 3, 2], // E
    [1, 4, 3, 2, 1, 3, 2], // F
    [4, 3, 2, 1, 3, 2, 1], // F sharp
    [1, 4, 3, 2, 1, 3, 2], // G
    [3, 2, 1, 4, 3, 2, 1], // G sharp
    [1, 4, 3, 2, 1, 3, 2], // A
    [2, 1, 3, 2, 1, 4, 3], // B flat
    [1, 3, 2, 1, 4, 3, 2], // B
];
/// Where several scales have the keys of a run: the plainest signature first.
const TONICS: [i32; 12] = [0, 7, 5, 2, 10, 9, 3, 4, 8, 11, 1, 6];

/// For each grip its finger, where it is part of a scale.
pub(super) fn fingers(grips: &[FingerGrip]) -> Vec<Option<u8>> {
    let mut fingers = vec![None; grips.len()];
    let mut start = 0;
    while start + 1 < grips.len() {
        let Some(way) = step(grips, start) else {
            start += 1;
            continue;
        };
        let goes_on = |n: &usize| step(grips, *n).is_some_and(|other| (other > 0) == (way > 0));
        let end = start + (start..).take_while(goes_on).count();
        if end + 1 - start >= RUN {
            let keys: Vec<KeyNumber> =
                grips[start..=end].iter().filter_map(|grip| grip.keys.first().copied()).collect();
            if let Some(found) = of_run(&keys) {
                for (finger, of_scale) in fingers[start..=end].iter_mut().zip(found) {
                    *finger = Some(of_scale);
                }
            }
        }
        start = end;
    }
    fingers
}

/// From one single key to the next, where that is a step.
fn step(grips: &[FingerGrip], index: usize) -> Option<i32> {
    let ([from], [to]) = (&grips.get(index)?.keys[..], &grips.get(index + 1)?.keys[..]) else {
        return None;
    };
    let way = to.distance(*from).0;
    (1..=STEP).contains(&way.abs()).then_some(way)
}

/// The fingers of a run in one direction, if it is of a scale.
fn of_run(keys: &[KeyNumber]) -> Option<Vec<u8>> {
    if keys.windows(2).all(|pair| pair[1].distance(pair[0]).0.abs() == 1) {
        return Some(keys.iter().map(|key| of_chromatic(*key)).collect());
    }
    let (low, high) = (keys.iter().min()?, keys.iter().max()?);
    let minors = [(&NATURAL, &OF_MINOR), (&HARMONIC, &OF_MINOR)];
    let on = |tonic: PitchClass| {
        let scales = std::iter::once((&MAJOR, &OF_MAJOR)).chain(minors);
        scales.map(move |(steps, fingers)| Scale { tonic, steps, fingers })
    };
    // A scale from its tonic is that scale; else the run is part of the plainest.
    let ends = [low.class(), high.class()].into_iter();
    let all = ends.chain(TONICS.map(PitchClass::new)).flat_map(on);
    all.filter_map(|scale| keys.iter().map(|key| scale.finger(*key)).collect())
        .map(|found| settled(keys, found))
        .next()
}

/// The third finger on black keys, the thumb on white ones, and the second where two
/// of them lie side by side (the same book, no. 40).
fn of_chromatic(key: KeyNumber) -> u8 {
    match key.class().index() {
        4 | 11 => 2,
        _ if is_black(key) => 3,
        _ => 1,
    }
}

/// The lowest key has no thumb that came under: one finger more than its neighbour.
fn settled(keys: &[KeyNumber], mut found: Vec<u8>) -> Vec<u8> {
    let up = keys.first() < keys.last();
    let last = found.len().saturating_sub(1);
    let (lowest, above) = if up { (0, 1) } else { (last, last.saturating_sub(1)) };
    if found[lowest] == 1 {
        found[lowest] = (found[above] + 1).min(5);
    }
    found
}

struct Scale {
    tonic: PitchClass,
    steps: &'static [usize; 7],
    fingers: &'static [[u8; 7]; 12],
}

impl Scale {
    /// `None` if the key is not in it, or would get the thumb on a black key.
    fn finger(&self, key: KeyNumber) -> Option<u8> {
        let above = (key.class().index() + 12 - self.tonic.index()) % 12;
        let degree = self.steps.iter().position(|step| *step == above)?;
        let finger = self.fingers[self.tonic.index()][degree];
        (finger != 1 || !is_black(key)).then_some(finger)
    }
}

#[cfg(test)]
mod tests {
    use super::super::tests::told;

    /// A scale over an octave, and down again.
    fn scale(tonic: u8, steps: [usize; 7]) -> String {
        let mut keys: Vec<u8> =
            steps.iter().map(|step| tonic + *step as u8).chain([tonic + 12]).collect();
        keys.extend(keys.clone().iter().rev().skip(1));
        let keys: Vec<[u8; 1]> = keys.into_iter().map(|key| [key]).collect();
        let keys: Vec<&[u8]> = keys.iter().map(<[u8; 1]>::as_slice).collect();
        told(&keys)
    }

    #[test]
    fn scales_are_fingered_as_published() {
        for (tonics, steps, published) in [
            (&[36, 43, 38, 33, 40, 41][..], super::MAJOR, "5 4 3 2 1 3 2 1"),
            (&[35], super::MAJOR, "4 3 2 1 4 3 2 1"),
            (&[42], super::MAJOR, "4 3 2 1 3 2 1 4"),
            (&[37, 44, 39, 46], super::MAJOR, "3 2 1 4 3 2 1 3"),
            (&[33, 40, 38, 43, 36, 41], super::HARMONIC, "5 4 3 2 1 3 2 1"),
            (&[33, 40, 38, 43, 36, 41], super::NATURAL, "5 4 3 2 1 3 2 1"),
            (&[35], super::HARMONIC, "4 3 2 1 4 3 2 1"),
            (&[42], super::HARMONIC, "4 3 2 1 3 2 1 4"),
            (&[37, 44], super::HARMONIC, "3 2 1 4 3 2 1 3"),
            (&[39], super::HARMONIC, "2 1 4 3 2 1 3 2"),
            (&[46], super::HARMONIC, "2 1 3 2 1 4 3 2"),
        ] {
            let down: Vec<&str> = published.split(' ').rev().skip(1).collect();
            let published = format!("{published} {}", down.join(" "));
            for tonic in tonics {
                assert_eq!(scale(*tonic, steps), published, "from {tonic}, {steps:?}");
            }
        }
    }

    #[test]
    fn two_octaves_parts_and_half_steps_are_fingered_so_too() {
        let keys: Vec<[u8; 1]> =
            [36, 38, 40, 41, 43, 45, 47, 48, 50, 52, 53, 55, 57, 59, 60].map(|key| [key]).to_vec();
        let keys: Vec<&[u8]> = keys.iter().map(<[u8; 1]>::as_slice).collect();
        assert_eq!(told(&keys), "5 4 3 2 1 3 2 1 4 3 2 1 3 2 1");
        assert_eq!(told(&keys[1..9]), "4 3 2 1 3 2 1 4");
        let half: Vec<[u8; 1]> = (36..49).map(|key| [key]).collect();
        let half: Vec<&[u8]> = half.iter().map(<[u8; 1]>::as_slice).collect();
        assert_eq!(told(&half), "1 3 1 3 2 1 3 1 3 1 3 2 1");
        // Five keys are five fingers.
        assert_eq!(told(&keys[1..6]), "5 4 3 2 1");
    }
}
