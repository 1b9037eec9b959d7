//! The register over the phrase: in which octave each stroke of the left hand is
//! struck, chosen with the whole song in view.
//!
//! Live, the hand goes to the nearest key of the next root, and may find itself
//! two octaves from where it has to be a bar later. Of a chart all bars are known:
//! a shortest path over the strokes (R. Bellman's dynamic programming, 1957), a
//! state for each octave that a stroke may be moved by, moves as little as will do
//! to avoid leaps that no hand makes in the time.

use super::HandNote;
use crate::Timeline;
use sinistra_core::engine::Settings;
use sinistra_core::pitch::{KeyNumber, Semitones};
use sinistra_core::play::{Role, limits};
use sinistra_core::time::Ticks;

/// A leap wider than this (a major tenth) is planned around where there is less
/// than [`SOON`] for it.
pub const TENTH: i32 = 16;
/// Half a second.
pub const SOON: f64 = 0.5;
/// Wider than an octave is planned around where there is less than [`AT_ONCE`].
const OCTAVE: i32 = 12;
const AT_ONCE: f64 = 0.3;

/// Octaves that a stroke may be moved by.
const SHIFTS: [i32; 5] = [0, -1, 1, -2, 2];

/// What is never done: leaving the range, a step that leads turned into a ninth, a
/// held key that moves.
const NEVER: f64 = 1e6;
/// A leap over a tenth in less than half a second.
const LEAP: f64 = 1e3;
/// A leap over an octave in less than 0.3 s.
const HURRY: f64 = 20.0;
/// Another shape than the pattern's, within a chord.
const SHAPE: f64 = 8.0;
/// Each stroke that is struck in another octave than the hand would by itself.
const MOVED: f64 = 0.25;
/// A semitone of way.
const WAY: f64 = 0.05;

/// A key of the right hand, and from when until when it sounds.
pub(crate) type RightKey = (KeyNumber, (Ticks, Ticks));

/// Moves strokes of `left` (in time order) by octaves. `right` is in time order, too.
pub(crate) fn plan(
    left: &mut [HandNote],
    right: &[RightKey],
    timeline: &Timeline,
    settings: &Settings,
) {
    let strokes: Vec<&[HandNote]> = left.chunk_by(|a, b| a.at == b.at).collect();
    let mut ways: Vec<[(f64, usize); SHIFTS.len()]> = Vec::with_capacity(strokes.len());
    // When everything struck so far has ended: what rings is not moved away from.
    let mut ends = i64::MIN;
    for (index, stroke) in strokes.iter().enumerate() {
        let held = stroke.first().is_some_and(|note| note.at.0 < ends);
        ends = stroke.iter().map(|note| note.until.0).fold(ends, i64::max);
        let ceiling = ceiling(stroke, right, settings);
        let before = index.checked_sub(1).map(|n| (strokes[n], ways[n]));
        let mut here = [(NEVER, 0); SHIFTS.len()];
        for (way, shift) in here.iter_mut().zip(SHIFTS) {
            let own = of_stroke(stroke, shift, ceiling, settings);
            *way = match before {
                None => (own, 0),
                Some((last, ways)) => {
                    let step = |from: usize| {
                        ways[from].0
                            + of_step((last, SHIFTS[from]), (stroke, shift), held, timeline)
                    };
                    let from = (0..SHIFTS.len()).min_by(|a, b| step(*a).total_cmp(&step(*b)));
                    from.map_or((NEVER, 0), |from| (step(from) + own, from))
                }
            };
        }
        ways.push(here);
    }
    let lengths: Vec<usize> = strokes.iter().map(|stroke| stroke.len()).collect();
    let ends = ways
        .last()
        .map(|way| (0..SHIFTS.len()).min_by(|a, b| way[*a].0.total_cmp(&way[*b].0)).unwrap_or(0));
    let Some(mut at) = ends else { return };
    let mut end = left.len();
    for (way, length) in ways.iter().zip(lengths).rev() {
        let start = end - length;
        for note in &mut left[start..end] {
            note.key = moved(note.key, SHIFTS[at]).unwrap_or(note.key);
        }
        (end, at) = (start, way[at].1);
    }
    name_again(left);
}

/// What lies on its root's own key is the root again, and no octave of it.
fn name_again(left: &mut [HandNote]) {
    let mut root: Option<HandNote> = None;
    for note in left {
        match (note.role, root) {
            (Some(Role::Root | Role::Bass), _) => root = Some(*note),
            (Some(Role::Octave), Some(root))
                if (root.key, root.chord) == (note.key, note.chord) =>
            {
                note.role = root.role;
            }
            _ => {}
        }
    }
}

fn moved(key: KeyNumber, octaves: i32) -> Option<KeyNumber> {
    key.transpose(Semitones(OCTAVE * octaves))
}

/// The key that everything lies below: the lowest of the right hand that sounds.
fn ceiling(stroke: &[HandNote], right: &[RightKey], settings: &Settings) -> KeyNumber {
    let at = stroke.first().map_or(Ticks::ZERO, |note| note.sounds.0);
    let end = right.partition_point(|(_, (from, _))| *from <= at);
    let near = right[..end].iter().rev().take(24);
    let sounding = near.filter(|(_, (_, until))| *until > at).map(|(key, _)| *key);
    let top = KeyNumber::clamped(i32::from(settings.highest.number()) + 1);
    sounding.min().map_or(top, |lowest| lowest.min(top))
}

fn of_stroke(stroke: &[HandNote], shift: i32, ceiling: KeyNumber, settings: &Settings) -> f64 {
    if shift == 0 {
        return 0.0; // as the hand plays it, whatever it is
    }
    let fits = |note: &HandNote| {
        moved(note.key, shift).is_some_and(|key| settings.lowest <= key && key < ceiling)
    };
    let mut keys = stroke.iter().filter_map(|note| moved(note.key, shift));
    let lowest = keys.next();
    let muddy = lowest.is_some_and(|low| keys.any(|key| limits::muddy(low, key)));
    if stroke.iter().all(fits) && !muddy { MOVED * f64::from(shift.abs()) } else { NEVER }
}

/// From one stroke to the next.
fn of_step(
    (last, a): (&[HandNote], i32),
    (next, b): (&[HandNote], i32),
    held: bool,
    timeline: &Timeline,
) -> f64 {
    let (Some(from), Some(to)) = (last.first(), next.first()) else { return 0.0 };
    let mut cost = 0.0;
    if a != b {
        let written = to.key.distance(from.key).0.abs();
        let leads = from.chord != to.chord
            && written <= 2
            && !matches!(from.role, Some(Role::Root | Role::Octave | Role::Bass));
        if held || leads {
            return NEVER;
        }
        if from.chord == to.chord {
            cost += SHAPE;
        }
        // A third that growls with its root is no way out.
        let third = next.iter().find(|note| note.role == Some(Role::Third));
        let growls = third.zip(moved(from.key, a)).is_some_and(|(third, root)| {
            moved(third.key, b).is_some_and(|third| limits::growls(root, third))
        });
        if growls {
            return NEVER;
        }
    }
    let way = way(last, a, next, b);
    let seconds = timeline.seconds(to.sounds.0) - timeline.seconds(from.sounds.0);
    if way > TENTH && seconds < SOON {
        cost += LEAP;
    } else if way > OCTAVE && seconds < AT_ONCE {
        cost += HURRY;
    }
    cost + WAY * f64::from(way)
}

/// How far the hand goes, in semitones: its outer or its inner key, whichever less.
fn way(last: &[HandNote], a: i32, next: &[HandNote], b: i32) -> i32 {
    let ends = |stroke: &[HandNote], shift: i32| {
        let keys = stroke.iter().map(|note| i32::from(note.key.number()) + OCTAVE * shift);
        keys.fold((i32::MAX, i32::MIN), |(low, high), key| (low.min(key), high.max(key)))
    };
    let ((low, high), (next_low, next_high)) = (ends(last, a), ends(next, b));
    (next_low - low).abs().min((next_high - high).abs())
}

/// Leaps of the left hand that are wider than a tenth in less than half a second,
/// by the stroke at which they end.
pub fn leaps(left: &[HandNote], timeline: &Timeline) -> Vec<HandNote> {
    let strokes: Vec<&[HandNote]> = left.chunk_by(|a, b| a.at == b.at).collect();
    let leap = |pair: &[&[HandNote]]| {
        let [last, next] = pair else { return None };
        let (from, to) = (last.first()?, next.first()?);
        let seconds = timeline.seconds(to.sounds.0) - timeline.seconds(from.sounds.0);
        (way(last, 0, next, 0) > TENTH && seconds < SOON).then_some(*to)
    };
    strokes.windows(2).filter_map(leap).collect()
}

#[cfg(test)]
mod tests {
    use crate::performance::leaps;
    use crate::{Chart, Performance, find_pattern};
    use sinistra_core::engine::Settings;

    fn played(chart: &str, pattern: &str) -> Performance {
        let chart = Chart::read("c", chart).expect("a chart");
        let pattern = find_pattern(pattern).expect("ships").compile().expect("ships");
        Performance::of(chart.unfold(), 92.0, pattern, Settings::default())
    }

    #[test]
    fn octaves_in_f_sharp_are_planned_ahead() {
        let chart = "key: F#\ntempo: 92\n| F# | B | C# | F# | D#m | B | G#m C# | F# |\n";
        for pattern in ["octaves-low-high", "octaves-high-low", "everything-mixed"] {
            let performance = played(chart, pattern);
            let leaps = leaps(&performance.left, &performance.timeline);
            assert!(leaps.is_empty(), "{pattern}: {leaps:?}");
        }
    }

    #[test]
    fn what_is_moved_stays_in_the_range_and_below_the_right_hand() {
        let chart = "key: Ab\ntempo: 150\n| Ab | Fm | Db | Eb | Cm | Bbm | Eb | Ab |\n";
        for pattern in ["octaves-low-high", "thirds", "dropped-octave"] {
            let performance = played(chart, pattern);
            let lowest_right = performance.right.iter().map(|note| note.key).min();
            for note in &performance.left {
                assert!((28..60).contains(&note.key.number()), "{pattern}: {note:?}");
                assert!(Some(note.key) < lowest_right, "{pattern}: {note:?}");
            }
        }
    }
}
