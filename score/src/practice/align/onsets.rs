//! Notes that are struck together, on both sides of the alignment.

use std::ops::Range;

use crate::practice::take::Take;
use crate::practice::target::Target;
use sinistra_core::pitch::{PitchClass, PitchSet};
use sinistra_core::time::Ticks;

/// Strokes closer than this to the first of them are one attempt at a chord:
/// wider than any hand that means to strike together, shorter than a sixteenth
/// at 200 beats a minute. By ear.
pub(super) const TOGETHER_MS: f64 = 45.0;
/// The same of a hand whose chords fall apart, as a beginner's do.
pub(super) const APART_MS: f64 = 150.0;

/// What is asked for at one moment.
pub(in crate::practice) struct Onset {
    pub at: Ticks,
    pub on_pulse: bool,
    pub asked: AskedKeys,
}

/// The keys that an onset asks for.
pub(in crate::practice) enum AskedKeys {
    /// These, all of them.
    Keys(Vec<u8>),
    /// One of any of these classes; the first is the best.
    AnyOf(PitchClass, PitchSet),
}

/// Strokes of the take at about one time.
pub(super) struct Cluster {
    pub at_ms: f64,
    pub keys: Vec<u8>,
}

/// The upper notes of a rolled stroke are part of it as far as those that are played
/// would be: else each stroke of a sparing hand is half wrong, and a whole pass of a
/// loop is cheaper left out.
pub(super) fn of_target(target: &Target, together_ms: f64) -> Vec<Onset> {
    let together = Ticks::of_ms(together_ms, target.tempo);
    let mut onsets: Vec<Onset> = Vec::new();
    for note in target.notes() {
        match onsets.last_mut() {
            Some(Onset { at, asked: AskedKeys::Keys(keys), .. }) if note.at - *at <= together => {
                keys.push(note.key.number());
            }
            _ => onsets.push(Onset {
                at: note.at,
                on_pulse: note.on_pulse,
                asked: AskedKeys::Keys(vec![note.key.number()]),
            }),
        }
    }
    onsets
}

pub(super) fn of_take(take: &Take, together_ms: f64) -> Vec<Cluster> {
    let strokes = take.strokes();
    let close = |range: &Range<usize>| {
        let inside = &strokes[range.clone()];
        let sum: f64 = inside.iter().map(|stroke| stroke.at_ms).sum();
        Cluster {
            at_ms: sum / inside.len() as f64,
            keys: inside.iter().map(|stroke| stroke.key.number()).collect(),
        }
    };
    let mut clusters = Vec::new();
    let mut open: Option<Range<usize>> = None;
    for (index, stroke) in strokes.iter().enumerate() {
        open = Some(match open {
            Some(range) if stroke.at_ms - strokes[range.start].at_ms <= together_ms => {
                range.start..index + 1
            }
            Some(range) => {
                clusters.push(close(&range));
                index..index + 1
            }
            None => index..index + 1,
        });
    }
    clusters.extend(open.as_ref().map(close));
    clusters
}

/// How well played keys answer what is asked, 0 (not at all) ..= 1 (exactly).
pub(super) fn likeness(asked: &AskedKeys, played: &[u8]) -> f64 {
    match asked {
        AskedKeys::Keys(keys) => same_keys(keys, played),
        AskedKeys::AnyOf(best, classes) => {
            let fits = |key: &u8| {
                let class = PitchClass::new(i32::from(*key));
                let any = if classes.has(class) { 0.7 } else { 0.0 };
                if class == *best { 1.0 } else { any }
            };
            played.iter().map(fits).sum::<f64>() / played.len().max(1) as f64
        }
    }
}

fn same_keys(asked: &[u8], played: &[u8]) -> f64 {
    let best = |key: u8| {
        let same = |other: &u8| match key.abs_diff(*other) {
            0 => 1.0,
            12 | 24 => 0.6,
            _ => 0.0,
        };
        played.iter().map(same).fold(0.0, f64::max)
    };
    let sum: f64 = asked.iter().map(|key| best(*key)).sum();
    sum / asked.len().max(played.len()).max(1) as f64
}
