//! The rules that weigh a fingering (numbered as in Parncutt et al. 1997).

use super::FingerGrip;
use super::table::{Reach, between, is_black};
use sinistra_core::pitch::KeyNumber;

/// A hand that moves although it need not: by ear, dearer than any stretch
/// inside the comfortable span.
const MOVE: f64 = 6.0;
/// Of that, what a semitone of distance adds.
const MOVE_FAR: f64 = 0.15;
/// Time in which a move costs its full price, and what a semitone adds to it (a far way
/// takes longer: P. M. Fitts, J. Exp. Psychol. 47, 1954); about a third in twice the time.
const MOVE_MS: f64 = 200.0;
const MOVE_FAR_MS: f64 = 25.0;
/// A hand that moves between neighbours of a line, up to a fourth, where a finger
/// could go on. By ear.
const SLIDE: f64 = 20.0;
const NEAR: i32 = 5;
/// For each finger that a jump down lands inside of the little one. By ear.
const LANDING: f64 = 0.3;
/// The same key with another finger: nobody does that in an accompaniment.
const CHANGE: f64 = 60.0;
/// Wider than the table.
const TOO_WIDE: f64 = 40.0;

/// A broken octave by other fingers than the little one (or the fourth, on a black
/// key) and the thumb: common practice, as every book of octave studies has it.
const OCTAVE: f64 = 40.0;

/// The thumb that passes under outside of a scale: dearer than a stretch within an
/// octave, where an arpeggio is one position.
const PASS: f64 = 14.0;
/// The same beside the little finger, which nobody does.
const PASS_LITTLE: f64 = 40.0;

/// Another finger than a scale is printed with.
pub(super) const SCALE: f64 = 30.0;

/// What the table has against 5 4 2 over a major third between white keys, about.
const PRINTED: f64 = 5.0;

/// All fingerings of a grip: the lower the key, the higher the number.
pub(super) fn fingerings(grip: &FingerGrip) -> Vec<Vec<u8>> {
    let count = grip.keys.len().clamp(1, 5);
    let mut all = Vec::new();
    // Every choice of `count` fingers, as bits 1..=5.
    for bits in 0u8..32 {
        if bits.count_ones() as usize == count {
            let mut fingers: Vec<u8> =
                (1..=5).rev().filter(|finger| bits >> (finger - 1) & 1 == 1).collect();
            fingers.resize(grip.keys.len().max(1), 1);
            all.push(fingers);
        }
    }
    all
}

/// Neighbouring keys of the grip with their fingers, inner finger first, and
/// the span between them.
fn spans<'a>(
    grip: &'a FingerGrip,
    fingers: &'a [u8],
) -> impl Iterator<Item = (Option<Reach>, i32)> + 'a {
    grip.keys
        .windows(2)
        .zip(fingers.windows(2))
        .map(|(keys, fingers)| (between(fingers[1], fingers[0]), keys[1].distance(keys[0]).0))
}

pub(super) fn is_wide(grip: &FingerGrip, fingers: &[u8]) -> bool {
    spans(grip, fingers).any(|(reach, span)| reach.is_none_or(|reach| span > reach.most_practical))
}

/// What it costs to hold the grip.
pub(super) fn of_grip(grip: &FingerGrip, fingers: &[u8]) -> f64 {
    let held: f64 = spans(grip, fingers)
        .map(|(reach, span)| match reach {
            Some(reach) if span > reach.most_practical || span < 1 => TOO_WIDE,
            Some(reach) => stretched(reach, span, fingers.last() == Some(&1)),
            None => TOO_WIDE,
        })
        .sum();
    let each = grip.keys.iter().zip(fingers).map(|(key, finger)| of_finger(*key, *finger));
    let octave = match (&grip.keys[..], fingers) {
        ([low, high], [outer, inner]) if high.distance(*low).0 == 12 => {
            octave(*low, *outer, *inner)
        }
        _ => 0.0,
    };
    held + each.sum::<f64>() + octave
}

/// Rule 6 (weak fingers), for the fourth only: the bass is the little finger's
/// place in the left hand, and the hand stays open above it (common practice).
fn of_finger(key: KeyNumber, finger: u8) -> f64 {
    let weak = match finger {
        4 => 0.6,
        3 => 0.2,
        2 => 0.1,
        _ => 0.0,
    };
    // Rules 10 and 11: thumb and little finger on a black key.
    let short = match (is_black(key), finger) {
        (true, 1) => 0.5,
        (true, 5) => 0.25,
        _ => 0.0,
    };
    weak + short
}

/// Rules 1 to 3: stretch, small span, large span.
fn stretched(reach: Reach, span: i32, thumb: bool) -> f64 {
    let over = |limit: i32| f64::from((span - limit).max(0));
    let under = |limit: i32| f64::from((limit - span).max(0));
    let stretch = 2.0 * (over(reach.most_comfortable) + under(reach.least_comfortable));
    let each = if thumb { 1.0 } else { 2.0 };
    stretch + each * (over(reach.most_relaxed) + under(reach.least_relaxed))
}

/// The way from one grip to the next.
pub(super) struct GripChange {
    pub cost: f64,
    pub moves: bool,
}

pub(super) fn of_step(
    (last, before): (&FingerGrip, &[u8]),
    (next, after): (&FingerGrip, &[u8]),
) -> GripChange {
    let mut cost = 0.0;
    let mut moves = false;
    let mut pairs = 0.0;
    for (from, a) in last.keys.iter().zip(before) {
        for (to, b) in next.keys.iter().zip(after) {
            let up = to.distance(*from).0;
            pairs += 1.0;
            match (a == b, up == 0) {
                (true, true) => {}
                (true, false) => moves = true,
                (false, true) => cost += CHANGE,
                (false, false) => {
                    // Left hand: the smaller finger number lies higher.
                    let span = if a < b { -up } else { up };
                    let reach = between(*a.min(b), *a.max(b));
                    match reach {
                        Some(reach)
                            if (reach.least_practical..=reach.most_practical).contains(&span) =>
                        {
                            cost += stretched(reach, span, *a.min(b) == 1)
                                + passing((*from, *a), (*to, *b), span);
                        }
                        _ => moves = true,
                    }
                }
            }
        }
    }
    let octave = broken_octave((last, before), (next, after));
    if !moves {
        return GripChange { cost: cost / f64::max(pairs, 1.0) + octave, moves };
    }
    let far = home(next, after) - home(last, before);
    let time = (next.at_ms - last.at_ms).max(1.0);
    let needed = MOVE_MS + MOVE_FAR_MS * far.abs();
    let hurry = (needed / time).powf(1.5).clamp(0.3, 4.0);
    // A hand that jumps down lands on its little finger.
    let outer = f64::from(5 - after.first().copied().unwrap_or(5).min(5));
    let slide = match (&last.keys[..], &next.keys[..]) {
        ([from], [to]) if (1..=NEAR).contains(&to.distance(*from).0.abs()) => SLIDE,
        _ => 0.0,
    };
    let landing = if far < 0.0 { LANDING * outer } else { 0.0 };
    GripChange { cost: (MOVE + MOVE_FAR * far.abs()) * hurry + slide + landing + octave, moves }
}

/// Single keys an octave apart lie under the outer fingers.
fn broken_octave((last, before): (&FingerGrip, &[u8]), (next, after): (&FingerGrip, &[u8])) -> f64 {
    let ([from], [to], [a], [b]) = (&last.keys[..], &next.keys[..], before, after) else {
        return 0.0;
    };
    let (low, outer, inner) = match to.distance(*from).0 {
        12 => (*from, *a, *b),
        -12 => (*to, *b, *a),
        _ => return 0.0,
    };
    octave(low, outer, inner)
}

fn octave(low: KeyNumber, outer: u8, inner: u8) -> f64 {
    let outside = outer == 5 || outer == 4 && is_black(low);
    if outside && inner == 1 { 0.0 } else { OCTAVE }
}

/// What three grips cost together, while the hand stays.
pub(super) fn over_three(three: [(&FingerGrip, &[u8]); 3]) -> f64 {
    let [before, _, now] = three;
    again(before, now) + open_third(three) + frame(three)
}

/// Thumb and little finger a fifth apart have a finger on every white key between: a
/// triad is 5 3 1 in whatever order (common practice).
fn frame(three: [(&FingerGrip, &[u8]); 3]) -> f64 {
    let [Some(first), Some(second), Some(last)] = three.map(single) else { return 0.0 };
    let (low, high) = if first.0 < second.0 { (first, second) } else { (second, first) };
    let above = last.0.distance(low.0).0;
    if (low.1, high.1, high.0.distance(low.0).0) != (5, 1, 7) {
        return 0.0;
    }
    let own = match above {
        1 | 2 => 4,
        3 | 4 => 3,
        5 | 6 => 2,
        _ => return 0.0,
    };
    if last.1 == own { 0.0 } else { PRINTED }
}

/// A single key and its finger.
fn single((grip, fingers): (&FingerGrip, &[u8])) -> Option<(KeyNumber, u8)> {
    match (&grip.keys[..], fingers) {
        ([key], [finger]) => Some((*key, *finger)),
        _ => None,
    }
}

/// The same keys again by other fingers.
fn again((before, fingers): (&FingerGrip, &[u8]), (now, after): (&FingerGrip, &[u8])) -> f64 {
    let same = |(key, a): (&KeyNumber, &u8)| {
        now.keys.iter().zip(after).any(|(other, b)| other == key && a != b)
    };
    before.keys.iter().zip(fingers).filter(|pair| same(*pair)).count() as f64 * CHANGE
}

/// A major triad in root position by 5 4 2, up or down: where root and third are white
/// keys, arpeggios over an octave are printed so (C.-L. Hanon, "The Virtuoso Pianist",
/// 1873, no. 41, from memory), though the table has the third finger reach farther.
fn open_third(three: [(&FingerGrip, &[u8]); 3]) -> f64 {
    let [Some(first), Some(third), Some(last)] = three.map(single) else { return 0.0 };
    let (root, fifth) = if first.0 < last.0 { (first, last) } else { (last, first) };
    let major = third.0.distance(root.0).0 == 4 && fifth.0.distance(third.0).0 == 3;
    let white = !is_black(root.0) && !is_black(third.0);
    let as_printed = (root.1, third.1, fifth.1) == (5, 4, 2);
    if major && white && as_printed { -PRINTED } else { 0.0 }
}

/// Rules 8, 9 and 12: three to four, the fourth on a black key beside the
/// third on a white one, the thumb passing under.
fn passing((from, a): (KeyNumber, u8), (to, b): (KeyNumber, u8), span: i32) -> f64 {
    let mut cost = 0.0;
    if matches!((a, b), (3, 4) | (4, 3)) {
        cost += 1.0;
        let (three, four) = if a == 3 { (from, to) } else { (to, from) };
        if is_black(four) && !is_black(three) {
            cost += 1.0;
        }
    }
    if (a == 1 || b == 1) && span < 0 {
        let (thumb, other) = if a == 1 { (from, to) } else { (to, from) };
        cost += if a.max(b) == 5 { PASS_LITTLE } else { PASS };
        cost += match (is_black(thumb), is_black(other)) {
            (true, false) => 3.0,
            _ => 1.0,
        };
    }
    cost
}

/// Where the hand lies: the key under its little finger, were it at ease.
fn home(grip: &FingerGrip, fingers: &[u8]) -> f64 {
    // A five-finger position: white keys side by side.
    let above = |finger: &u8| [7.0, 5.0, 4.0, 2.0, 0.0][usize::from(finger.clamp(&1, &5) - 1)];
    let lies = grip.keys.iter().zip(fingers);
    let sum: f64 = lies.map(|(key, finger)| f64::from(key.number()) - above(finger)).sum();
    sum / grip.keys.len().max(1) as f64
}
