//! Touch: how loud the left hand's notes are beside one another, where its
//! accents fall, and how long they are held.

use serde::Serialize;

use super::align::TakeClock;
use super::figures::mean_and_spread;
use super::take::Take;
use super::target::Hand;
use super::verdict::NoteVerdict;

/// Loudness and length of the notes of the left hand that were struck right.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Touch {
    /// How the accents agree with those asked for, -1 (the other way round) ..=
    /// 1; 0 where a keyboard knows one loudness.
    pub accents: f64,
    /// Standard deviation of the loudness (1..=127) beside what is asked for.
    pub uneven: f64,
    /// Length held, as a part of the length asked for: the median.
    pub length: f64,
}

/// Fewer notes tell nothing.
const LEAST: usize = 16;
/// Accents that agree less than this lie on the weak places.
const REVERSED: f64 = -0.3;
/// A keyboard whose strokes differ less than this knows no loudness.
const ALIKE: f64 = 2.0;
/// Held for less than this part of its length a note is staccato, which halves
/// the written value (common practice).
pub const SHORT: f64 = 0.5;
/// A spread of loudness that is heard as uneven: about 6 dB between neighbours
/// on most keyboards. By ear.
pub const UNEVEN: f64 = 16.0;

impl Touch {
    /// Accents on the weak places.
    #[must_use]
    pub fn reversed(&self) -> bool {
        self.accents < REVERSED
    }

    /// Held too short.
    #[must_use]
    pub fn short(&self) -> bool {
        self.length < SHORT
    }

    /// Louder and softer without a reason.
    #[must_use]
    pub fn is_uneven(&self) -> bool {
        self.uneven > UNEVEN
    }
}

/// Of a judged take; `None` with too few notes.
pub(super) fn touch(notes: &[NoteVerdict], take: &Take, clock: &TakeClock) -> Option<Touch> {
    let mut pairs: Vec<(f64, f64)> = Vec::new();
    let mut lengths: Vec<f64> = Vec::new();
    for n in notes.iter().filter(|n| n.note.hand == Hand::Left && n.played == Some(n.note.key)) {
        let Some(stroke) = n.stroke.and_then(|index| take.strokes().get(index)) else { continue };
        pairs.push((f64::from(n.note.velocity), f64::from(stroke.velocity)));
        let asked = clock.ms(n.note.until) - clock.ms(n.note.at);
        if asked > 0.0 {
            lengths.push((stroke.until_ms - stroke.at_ms) / asked);
        }
    }
    if pairs.len() < LEAST || lengths.is_empty() {
        return None;
    }
    lengths.sort_by(f64::total_cmp);
    let (asked, played): (Vec<f64>, Vec<f64>) = pairs.iter().copied().unzip();
    let ((mean_asked, spread_asked), (mean, spread)) =
        (mean_and_spread(&asked), mean_and_spread(&played));
    let off: Vec<f64> = pairs.iter().map(|(a, p)| (p - mean) - (a - mean_asked)).collect();
    let tells = spread >= ALIKE && spread_asked >= ALIKE;
    let both: f64 = pairs.iter().map(|(a, p)| (a - mean_asked) * (p - mean)).sum();
    let accents = both / ((pairs.len() - 1) as f64 * spread * spread_asked);
    Some(Touch {
        accents: if tells { accents } else { 0.0 },
        uneven: if spread >= ALIKE { mean_and_spread(&off).1 } else { 0.0 },
        length: lengths[lengths.len() / 2],
    })
}
