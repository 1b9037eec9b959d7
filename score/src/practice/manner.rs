//! The manner: how it was played, beside which notes. Each thing that a listener
//! notices of a whole take has its threshold here, with its source.

use serde::Serialize;

use super::align::TakeClock;
use super::figures::{DRIFT, Figures, mean_and_spread};
use super::take::Take;
use super::target::Hand;
use super::tolerance::Tolerance;
use super::verdict::NoteVerdict;
use crate::count::Syllable;

/// Something that is noticed of the whole.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Manner {
    /// Faster at the end than at the start.
    Rushed,
    /// Slower at the end than at the start.
    SlowedDown,
    /// The beats themselves lie now early, now late.
    UnsteadyBeat,
    /// The "ands" lie now early, now late, between steady beats.
    UnsteadyAnds,
    /// The "ands" come late.
    LateAnds,
    /// The "ands" come early.
    EarlyAnds,
    /// The hands do not strike together.
    HandsApart,
    /// Louder and softer without a reason.
    Uneven,
    /// The accents lie on the weak places.
    AccentsReversed,
    /// Notes are let go too early.
    Short,
    /// The pedal is held over changes of chord.
    PedalHeld,
}

/// A beat that scatters more than this part of itself: trained players scatter by
/// 2 to 4 in a hundred of the interval beside a metronome, untrained ones by twice
/// that (Repp, Psychonomic Bulletin & Review 12, 2005, from memory).
const SCATTER: f64 = 0.055;
/// And by more than this at any tempo, ms: below it nobody hears an order (Hirsh,
/// J. Acoust. Soc. Am. 31, 1959, from memory).
const LEAST_MS: f64 = 20.0;
/// Hands farther apart than this on average, ms: in skilled playing the melody
/// leads by about 30 (Goebl, J. Acoust. Soc. Am. 110, 2001, from memory).
const APART_MS: f64 = 35.0;
/// Fewer places tell nothing.
const FEW: usize = 8;
/// The mean of several counts where it is farther off than chance has it: so many
/// standard errors.
const ERRORS: f64 = 3.0;
/// Three standard errors of the change of tempo over a parabola, times the root of
/// its points and its length, over their scatter.
const BEND: f64 = 80.0;
/// The pedal is changed within this time of a new chord, ms: the ear keeps the
/// sounds apart that overlap for less (common practice of syncopated pedalling: the
/// foot comes up as the new chord is struck).
const PEDAL_MS: f64 = 250.0;

impl Manner {
    /// Whether a round that has it is still clean: an "and" that is a little off is
    /// told as a habit, and each note has its own tolerance.
    #[must_use]
    pub const fn is_let_pass(self) -> bool {
        matches!(self, Self::LateAnds | Self::EarlyAnds)
    }
}

/// What is noticed of a judged take, most important first.
pub(super) fn manners(
    notes: &[NoteVerdict],
    figures: &Figures,
    tolerance: Tolerance,
    beat_ms: f64,
    (take, clock): (&Take, &TakeClock),
) -> Vec<Manner> {
    let mut found = Vec::new();
    let most = (SCATTER * beat_ms).max(LEAST_MS);
    let left = || notes.iter().filter(|n| n.note.hand == Hand::Left);
    let times = |of: &dyn Fn(&&NoteVerdict) -> bool| -> Vec<f64> {
        left().filter(|n| of(n)).filter_map(|n| n.late_ms).collect()
    };
    let beats = times(&|n| n.note.on_pulse);
    let ands = times(&|n| n.note.count.part == Syllable::And && !n.note.on_pulse);
    // A tempo told from beats that scatter is itself in doubt: about so much of the
    // error of a parabola's bend through as many points.
    let span_ms = notes
        .first()
        .zip(notes.last())
        .map_or(0.0, |(first, last)| clock.ms(last.note.at) - clock.ms(first.note.at));
    let doubt = BEND * scatter(&beats) / (span_ms * (beats.len().max(1) as f64).sqrt()).max(1.0);
    if figures.drift().abs() > DRIFT.max(doubt) {
        found.push(if figures.drift() > 0.0 { Manner::Rushed } else { Manner::SlowedDown });
    }
    let unsteady = |times: &[f64]| times.len() >= FEW && scatter(times) > most;
    if unsteady(&beats) {
        found.push(Manner::UnsteadyBeat);
    } else if unsteady(&ands) {
        found.push(Manner::UnsteadyAnds);
    }
    // Beside the hand's own beats: a hand that is late as a whole is not late here.
    let (mean, spread) = mean_and_spread(&ands);
    let mean = mean - mean_and_spread(&beats).0;
    let error = spread / (ands.len().max(1) as f64).sqrt();
    // Between beats that are themselves off, no "and" and no hand has its place.
    let steady = !found.contains(&Manner::UnsteadyBeat);
    if steady && ands.len() >= FEW && mean.abs() > tolerance.mean_ms.max(ERRORS * error) {
        found.push(if mean > 0.0 { Manner::LateAnds } else { Manner::EarlyAnds });
    }
    let apart =
        |hands: super::figures::HandToHand| hands.places >= FEW && hands.mean_ms.abs() > APART_MS;
    if steady && figures.hands.is_some_and(apart) {
        found.push(Manner::HandsApart);
    }
    if let Some(touch) = figures.touch {
        let faults = [
            (touch.reversed(), Manner::AccentsReversed),
            (touch.is_uneven() && !touch.reversed(), Manner::Uneven),
            (touch.short(), Manner::Short),
        ];
        found.extend(faults.into_iter().filter(|fault| fault.0).map(|fault| fault.1));
    }
    if holds_pedal(notes, take, clock) {
        found.push(Manner::PedalHeld);
    }
    found
}

/// Standard deviation by the median of what is off: one slip is no scatter (Hampel,
/// J. Am. Stat. Assoc. 69, 1974).
fn scatter(times: &[f64]) -> f64 {
    let middle = median(times.to_vec());
    1.4826 * median(times.iter().map(|time| (time - middle).abs()).collect())
}

fn median(mut of: Vec<f64>) -> f64 {
    of.sort_by(f64::total_cmp);
    of.get(of.len() / 2).copied().unwrap_or(0.0)
}

/// Whether the pedal stays down over half of the changes of chord, and three at
/// least.
fn holds_pedal(notes: &[NoteVerdict], take: &Take, clock: &TakeClock) -> bool {
    let pedals = take.pedals();
    if pedals.is_empty() {
        return false;
    }
    let left: Vec<&NoteVerdict> = notes.iter().filter(|n| n.note.hand == Hand::Left).collect();
    let changes = left.windows(2).filter(|pair| pair[0].note.symbol != pair[1].note.symbol);
    let down = |ms: f64| {
        let after = pedals.partition_point(|pedal| pedal.0 <= ms);
        after.checked_sub(1).is_some_and(|index| pedals[index].1)
    };
    let (mut all, mut over) = (0, 0);
    for pair in changes {
        let at = clock.ms(pair[1].note.at) + pair[1].late_ms.unwrap_or(0.0);
        let (from, to) = (at - PEDAL_MS, at + PEDAL_MS);
        let lifted = pedals.iter().any(|pedal| !pedal.1 && (from..=to).contains(&pedal.0));
        all += 1;
        over += usize::from(down(from) && !lifted);
    }
    over >= 3 && over * 2 >= all
}
