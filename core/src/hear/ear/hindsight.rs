//! Judging again: what the chord was, when it and what followed has sounded.
//!
//! Half a beat is judged when two beats have passed since it began, and once
//! more after four; better known, it makes the memory better.

use super::Ear;
use super::felt::{FeltPosition, PLACES};
use super::recall::Recalled;
use super::scorer::Signs;
use super::signs::{keys, one_of};
use super::twelve::shares;
use crate::maths;
use crate::time::Place;

/// See [`super::signs::CLASSES`]: heard in the half beat, the beat before and
/// after it, two beats, four; sixteen before; the second beat, the second half
/// bar after; the felt beat, half bar and bar whole; the lowest struck in the
/// next beat, two, the felt half bar; recalled for a beat, two, four.
pub const CLASSES: usize = 20;

/// Key (major, minor); the roots, as judged, two and four beats before, two
/// after.
pub const STEPS: usize = 5;

/// What is recalled.
pub const SCALARS: usize = 1;

/// Place in the felt bar, in the felt half bar, how long ago (2), how much is
/// recalled, its square.
pub const GLOBALS: usize = PLACES + 8 + 2 + 2;

/// Everything that the judge looks at.
pub type HindsightSigns = Signs<CLASSES, STEPS, SCALARS, GLOBALS>;

impl HindsightSigns {
    /// The half beat that begins with `frame`, as it is known after `age` frames.
    pub(super) fn gather(ear: &Ear, frame: i64, age: i64, place: Place) -> Self {
        let past = &ear.past;
        let position = ear.felt.at(past.start_of(frame), place);
        let until = frame + age;
        let recalled = Recalled::gather(past, &ear.judged, ear.likeness.likes(), frame, until);
        let FeltPosition { from_half, from_bar, bar, .. } = position;
        let mut classes = [[0.0; 12]; CLASSES];
        let half = frame - from_half;
        let whole = if bar == 16 { 8 } else { bar };
        let spans = [
            (0, 2),
            (-2, 0),
            (-4, 0),
            (-8, 0),
            (-16, 0),
            (-64, 0),
            (0, 4),
            (0, 8),
            (0, 16),
            (4, 8),
            (8, 16),
        ]
        .map(|(from, to)| (frame + from, frame + to));
        let felt = [
            (frame - from_half % 4, frame - from_half % 4 + 4),
            (half, half + whole),
            (frame - from_bar, frame - from_bar + bar),
        ];
        for (block, (from, to)) in classes.iter_mut().zip(spans.into_iter().chain(felt)) {
            *block = shares(past.heard(from, to.min(until)));
        }
        let lows = [(frame, frame + 4), (frame, frame + 8), (half, half + whole)];
        for (block, (from, to)) in classes[14..].iter_mut().zip(lows) {
            *block = one_of(past.lowest(from, to.min(until)));
        }
        classes[17..].copy_from_slice(&recalled.sound);
        let mut steps = [[0.0; 12]; STEPS];
        steps[..2].copy_from_slice(&keys(ear));
        for (step, away) in steps[2..].iter_mut().zip([-8, -16, 8]) {
            *step = ear.judged.at(past, frame + away);
        }
        let mut globals = [0.0; GLOBALS];
        globals[..PLACES].copy_from_slice(&position.odds);
        for one in [PLACES + maths::ring(from_half, 8), 24 + usize::from(age > 8)] {
            globals.iter_mut().skip(one).take(1).for_each(|sign| *sign = 1.0);
        }
        globals[26] = recalled.known;
        globals[27] = recalled.known * recalled.known;
        Self { classes, steps, scalars: [recalled.speaks()], globals }
    }
}
