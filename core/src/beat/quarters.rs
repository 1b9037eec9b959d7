//! Which quarter of a beat is the beat itself. A hand that plays between the beats
//! keeps time as steadily as one that plays on them; what tells is how far apart
//! strokes are, how many keys they have, and whether their harmony is new: a hidden
//! Markov model of the place in the beat (after C. Raphael, "Automated rhythm
//! transcription", ISMIR 2001). Its chances are counted on the songs of POP909
//! whose place in the order of names is even, by the example `beat_figures`.

use super::PlayerStroke;
use crate::maths;
use crate::pitch::PitchSet;

/// Nats, for the quarters of a beat that a stroke falls on: the next is so many
/// quarters on, sixteen or more in the last.
const GAPS: [[f64; 16]; 4] = [
    [
        -3.33, -1.56, -2.77, -0.71, -4.90, -2.76, -5.46, -2.68, -7.17, -4.57, -6.73, -4.68, -7.83,
        -5.89, -8.34, -3.45,
    ],
    [
        -0.82, -1.69, -1.56, -3.22, -3.46, -3.67, -3.52, -4.53, -5.00, -6.13, -5.71, -5.69, -6.93,
        -6.29, -6.15, -4.87,
    ],
    [
        -1.85, -0.78, -4.49, -1.92, -4.10, -1.96, -6.05, -3.74, -6.91, -4.08, -7.47, -5.47, -7.64,
        -6.06, -7.49, -4.16,
    ],
    [
        -0.94, -2.05, -1.47, -2.68, -2.38, -4.88, -4.01, -3.35, -4.17, -5.98, -6.56, -6.34, -6.58,
        -7.11, -7.75, -5.54,
    ],
];
/// The stroke has one key, two, three, more.
const KEYS: [[f64; 4]; 4] = [
    [-0.87, -1.01, -1.62, -3.85],
    [-0.26, -1.79, -2.96, -4.51],
    [-0.34, -1.42, -3.11, -5.32],
    [-0.35, -1.44, -2.94, -4.88],
];
/// None of its pitch classes is new, one is, more are.
const FRESH: [[f64; 3]; 4] =
    [[-0.99, -0.90, -1.50], [-0.48, -1.03, -3.69], [-0.64, -0.84, -3.26], [-0.62, -0.89, -2.99]];
/// The pedal comes up in each sixteenth of a beat, and goes down: before a new harmony, and
/// after it.
const PEDAL: [[f64; 16]; 2] = [
    [
        -2.03, -2.73, -3.58, -4.00, -4.51, -4.41, -5.16, -4.51, -3.93, -3.68, -3.42, -2.91, -2.24,
        -1.96, -1.79, -1.78,
    ],
    [
        -2.18, -2.30, -2.37, -2.34, -2.58, -2.59, -2.62, -2.79, -2.96, -3.44, -4.05, -4.06, -4.04,
        -3.98, -3.07, -2.19,
    ],
];
/// How much of that counts.
const PEDAL_COUNTS: f64 = 0.6;
/// How much of the others counts, as strokes are not independent of each other.
const COUNTS: f64 = 0.3;
/// The most that may speak against a quarter, nats.
const MOST: f64 = 12.0;
/// Another quarter is the beat when it is better by so much.
const BETTER: f64 = 1.0;
/// What speaks against each quarter at first.
const FIRST: [f64; 4] = [0.0, -4.0, -2.0, -4.0];
/// For the quarter that is taken for the beat, when a chord falls where one is
/// written.
const WRITTEN: f64 = 1.4;
/// A pitch class is new if it was not struck in so many beats.
const FRESH_BEATS: f64 = 1.6;
/// The most strokes that are remembered for that.
const REMEMBERED: usize = 8;

/// What speaks for a stroke's place beside its time.
#[derive(Clone, Copy, Debug)]
pub struct StrokeSigns {
    /// How many keys, from 0 for one.
    keys: usize,
    /// How many pitch classes are new, if they are known.
    fresh: Option<usize>,
}

/// What was struck last.
#[derive(Clone, Copy, Debug, Default)]
pub struct LastStruck([(f64, PitchSet); REMEMBERED]);

impl LastStruck {
    /// Hears a stroke, where a beat has `length` seconds.
    pub fn hear(&mut self, stroke: PlayerStroke, length: f64) -> StrokeSigns {
        let since = stroke.at - FRESH_BEATS * length;
        let recent = self.0.iter().filter(|(at, _)| *at >= since);
        let struck = recent.fold(PitchSet::EMPTY, |all, (_, classes)| all.or(*classes));
        let fresh = (stroke.classes.minus(struck).len() as usize).min(FRESH[0].len() - 1);
        self.0.rotate_right(1);
        self.0[0] = (stroke.at, stroke.classes);
        StrokeSigns {
            keys: usize::from(stroke.keys.max(1) - 1).min(KEYS[0].len() - 1),
            fresh: (!stroke.classes.is_empty()).then_some(fresh),
        }
    }
}

/// What speaks for each quarter to be the beat.
#[derive(Clone, Copy, Debug)]
pub struct BeatQuarters {
    /// Nats, the best at 0: how likely the beat is so many quarters before what
    /// is taken for it.
    likely: [f64; 4],
    /// The quarter of the last stroke, counted in fours; `None` for a third.
    last: Option<usize>,
}

impl BeatQuarters {
    /// The first stroke is at a beat, whole or not.
    pub fn new(beat: f64) -> Self {
        Self { likely: FIRST, last: Some(quarter_of(beat)) }
    }

    /// A stroke so many beats after the last, on a place of a beat; whether a chord
    /// is written there.
    pub fn hear(&mut self, beats: f64, place: usize, signs: StrokeSigns, written: bool) {
        let to = quarter(place);
        if let Some((from, to)) = self.last.zip(to) {
            let gap = quarters(beats).clamp(1, GAPS[0].len()) - 1;
            for (by, likely) in self.likely.iter_mut().enumerate() {
                let (from, to) = ((from + by) % 4, (to + by) % 4);
                let fresh = signs.fresh.map_or(0.0, |fresh| FRESH[to][fresh]);
                *likely += COUNTS * (GAPS[from][gap] + KEYS[to][signs.keys] + fresh);
            }
        }
        if written {
            self.likely[0] += WRITTEN;
        }
        self.last = to;
        self.settle();
    }

    /// The pedal goes down or comes up at that beat; what speaks against it there, in nats.
    pub fn pedal(&mut self, beat: f64, down: bool) -> f64 {
        let nats = &PEDAL[usize::from(down)];
        let part = maths::count(maths::whole((beat - libm::floor(beat)) * 16.0));
        for (by, likely) in self.likely.iter_mut().enumerate() {
            *likely += PEDAL_COUNTS * nats[(part + 4 * by) % 16];
        }
        self.settle();
        -nats[part % 16]
    }

    fn settle(&mut self) {
        let best = self.likely.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        self.likely.iter_mut().for_each(|likely| *likely = (*likely - best).max(-MOST));
    }

    /// By how many quarters the beat goes on, as another quarter than the one that
    /// is taken for it is the beat.
    pub fn turn(&mut self) -> Option<usize> {
        let better = |by: &usize| self.likely[*by] > self.likely[0] + BETTER;
        let by =
            (1..4).filter(better).max_by(|a, b| self.likely[*a].total_cmp(&self.likely[*b]))?;
        self.likely.rotate_left(by);
        self.last = self.last.map(|last| last + by);
        Some(by)
    }
}

/// How many beats a turn by so many quarters is: the shortest way.
pub fn turned(by: usize) -> f64 {
    [0.0, 0.25, 0.5, -0.25][by % 4]
}

/// The quarter of a beat that a place is.
fn quarter(place: usize) -> Option<usize> {
    let at = super::PLACES.get(place)? * 4.0;
    (at == libm::floor(at)).then(|| quarter_of(at / 4.0))
}

/// The place of a beat that a quarter is.
pub fn place_of(quarter: usize) -> usize {
    [0, 1, 3, 5][quarter % 4]
}

fn quarter_of(beat: f64) -> usize {
    quarters(beat - libm::floor(beat))
}

fn quarters(beats: f64) -> usize {
    usize::try_from(maths::whole(libm::round(beats * 4.0))).unwrap_or(0)
}
