//! The verdict on a take: what became of each note, and what was too many.

use serde::Serialize;

use super::align::{Alignment, TakeClock, TakeReference, align};
use super::figures::{self, Figures};
use super::manner::{Manner, manners};
use super::rule::RulePlace;
use super::take::Take;
use super::target::{Hand, Target, TargetNote};
use super::tolerance::Tolerance;
use super::touch::touch;
use super::whole::Whole;
use crate::count::Count;
use sinistra_core::pitch::KeyNumber;
use sinistra_core::time::Ticks;

/// What became of a note that was asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
#[allow(missing_docs, reason = "their names say it")]
pub enum Outcome {
    Right,
    Early,
    Late,
    /// Another key was struck in its place.
    Wrong,
    /// The right name an octave or two away.
    Octave,
    Missed,
}

/// One note of the target and its fate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NoteVerdict {
    /// What was asked.
    pub note: TargetNote,
    /// What became of it.
    pub outcome: Outcome,
    /// Milliseconds after (negative: before) its time; `None` if missed.
    pub late_ms: Option<f64>,
    /// Index of its stroke in the take.
    pub stroke: Option<usize>,
    /// The key struck.
    pub played: Option<KeyNumber>,
    /// In a free exercise, what the rule asked for there.
    pub rule: Option<RulePlace>,
}

/// A stroke that answers nothing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Extra {
    /// Index of the stroke in the take.
    pub stroke: usize,
    /// The key struck.
    pub key: KeyNumber,
    /// The hand it most likely belongs to.
    pub hand: Hand,
    /// Bar of the note at or before it, as printed; its first if before all.
    pub bar: i64,
    /// Count of that note.
    pub count: Count,
    /// Whether it repeats that note's key: struck twice.
    pub repeated: bool,
}

/// Everything found in a take.
#[derive(Clone, Debug)]
pub struct Verdict {
    /// Every note asked for, in the target's order.
    pub notes: Vec<NoteVerdict>,
    /// Every stroke that was too many, in time order.
    pub extras: Vec<Extra>,
    /// The numbers behind the words.
    pub figures: Figures,
    /// What was let pass.
    pub tolerance: Tolerance,
    /// Where each tick lies in the take.
    pub clock: TakeClock,
    /// What holds of all of it.
    pub whole: Whole,
    /// What a listener notices beside the notes, most important first.
    pub manners: Vec<Manner>,
}

impl Verdict {
    /// Notes whose key was right, in time or not.
    #[must_use]
    pub fn keys_right(&self) -> usize {
        let all = &self.figures.all;
        all.right + all.early + all.late
    }

    /// Every note right, none too many, nine of ten in time, and nothing else that a
    /// listener notices: the round after which practice goes on faster. Common
    /// practice.
    #[must_use]
    pub fn is_clean(&self) -> bool {
        let off = |n: &&NoteVerdict| matches!(n.outcome, Outcome::Early | Outcome::Late);
        let wrong = |n: &NoteVerdict| {
            matches!(n.outcome, Outcome::Wrong | Outcome::Octave | Outcome::Missed)
        };
        self.whole == Whole::default()
            && self.manners.iter().all(|manner| manner.is_let_pass())
            && self.extras.is_empty()
            && !self.notes.iter().any(wrong)
            && self.notes.iter().filter(off).count() * 10 <= self.notes.len()
    }
}

/// Judges a take. The right hand is judged too where the target asks for it
/// and the take has it. Where little of it answers, another octave or a late
/// entry is tried. `None` if nothing of the target is in the take; beside a metronome, if
/// nothing was played.
#[must_use]
pub fn judge(target: &Target, take: &Take, beat: TakeReference) -> Option<Verdict> {
    let plain = judge_as(Whole::default(), &asked(target, take), take, beat);
    let fits = |verdict: &Verdict| verdict.keys_right() * 10 >= verdict.notes.len() * 6;
    let heavy = target.notes().len().saturating_mul(take.strokes().len()) > HEAVY;
    if heavy || plain.as_ref().is_some_and(fits) {
        return plain;
    }
    let steady = matches!(beat, TakeReference::Metronome { .. });
    let mut best = plain;
    for whole in Whole::tries(steady) {
        for hand in [None, Some(Hand::Left), Some(Hand::Right)] {
            let part = hand.map_or_else(|| target.clone(), |hand| target.of_hand(hand));
            if part.notes().is_empty() || whole.hand.is_some() && hand.is_some() {
                continue;
            }
            let Some(tried) = judge_as(whole, &part, take, beat) else { continue };
            let before = best.as_ref().map_or(0, Verdict::keys_right);
            let clearly = tried.keys_right() * 10 >= tried.notes.len() * 8;
            if clearly && tried.keys_right() * 2 > before * 3 {
                best = Some(tried);
            }
        }
    }
    best
}

/// Notes asked for times strokes, beyond which nothing else is tried.
const HEAVY: usize = 250_000;

/// Judges by what the target would be if `whole` held of it.
fn judge_as(whole: Whole, asked: &Target, take: &Take, beat: TakeReference) -> Option<Verdict> {
    let target = &whole.asked(asked)?;
    let alignment = align(target, take, beat)?;
    let Alignment { stroke_of, note_of, clock } = alignment;
    let strokes = take.strokes();
    let tempo = match beat {
        TakeReference::Metronome { tempo, .. } => tempo,
        TakeReference::Own => typical_tempo(target, &clock),
    };
    let tolerance = Tolerance::at(target.pulse_ms(tempo));
    let notes: Vec<NoteVerdict> = target
        .notes()
        .iter()
        .zip(&stroke_of)
        .map(|(note, index)| {
            let stroke = index.and_then(|index| strokes.get(index));
            let late_ms = stroke.map(|stroke| stroke.at_ms - clock.ms(note.at));
            let played = stroke.map(|stroke| stroke.key);
            let outcome = outcome(note.key, played, late_ms, tolerance.note_ms);
            NoteVerdict { note: *note, outcome, late_ms, stroke: *index, played, rule: None }
        })
        .collect();
    let extras = note_of
        .iter()
        .enumerate()
        .filter(|(_, note)| note.is_none())
        .filter_map(|(index, _)| extra(index, take, &notes, &clock))
        .collect();
    let touch = touch(&notes, take, &clock);
    let judged = notes.clone();
    let mut notes: Vec<_> = notes.iter().map(|note| whole.as_asked(note, asked.pulse)).collect();
    notes.sort_by_key(|n| (n.note.at, n.note.key, n.note.hand));
    let figures = Figures { touch, ..figures::figures(&notes, &clock, tempo) };
    let whole = whole.with_stop(&notes);
    let beat_ms = target.pulse_ms(tempo);
    let manners = manners(&judged, &figures, tolerance, beat_ms, (take, &clock));
    Some(Verdict { notes, extras, figures, tolerance, clock, whole, manners })
}

/// The target without a hand that the take does not play at all.
fn asked(target: &Target, take: &Take) -> Target {
    let of = |hand| target.notes().iter().filter(move |note| note.hand == hand);
    let (left, right) = (of(Hand::Left).count(), of(Hand::Right).count());
    let Some(lowest_right) = of(Hand::Right).map(|note| note.key).min() else {
        return target.clone();
    };
    let above = take.strokes().iter().filter(|stroke| stroke.key >= lowest_right).count();
    let below = take.strokes().len() - above;
    if left > 0 && above * 4 < right {
        target.of_hand(Hand::Left)
    } else if left > 0 && below * 8 < left {
        target.of_hand(Hand::Right)
    } else {
        target.clone()
    }
}

fn typical_tempo(target: &Target, clock: &TakeClock) -> f64 {
    let ends = target.notes().first().zip(target.notes().last());
    let Some((first, last)) = ends.filter(|(first, last)| last.at > first.at) else {
        return target.tempo;
    };
    // Half way, so that a stop does not count as slow playing.
    let middle = i64::midpoint(first.at.0, last.at.0);
    let tempo = clock.tempo(Ticks(middle));
    if (10.0..=1000.0).contains(&tempo) { tempo } else { target.tempo }
}

fn outcome(
    asked: KeyNumber,
    played: Option<KeyNumber>,
    late_ms: Option<f64>,
    allowed: f64,
) -> Outcome {
    match (played, late_ms) {
        (Some(played), Some(late)) if played == asked => match late {
            late if late > allowed => Outcome::Late,
            late if late < -allowed => Outcome::Early,
            _ => Outcome::Right,
        },
        (Some(played), _) if played.class() == asked.class() => Outcome::Octave,
        (Some(_), _) => Outcome::Wrong,
        (None, _) => Outcome::Missed,
    }
}

fn extra(index: usize, take: &Take, notes: &[NoteVerdict], clock: &TakeClock) -> Option<Extra> {
    let stroke = take.strokes().get(index)?;
    // Its neighbour by what was played, else by the clock.
    let time = |n: &NoteVerdict| clock.ms(n.note.at) + n.late_ms.unwrap_or(0.0);
    let before = notes.iter().filter(|n| time(n) <= stroke.at_ms).max_by(|a, b| {
        let same = |n: &NoteVerdict| n.note.key == stroke.key;
        time(a).total_cmp(&time(b)).then(same(a).cmp(&same(b)))
    });
    let place = before.or(notes.first())?;
    let hand = notes
        .iter()
        .min_by_key(|n| {
            let beats = (time(n) - stroke.at_ms).abs() as i64 / 500;
            (beats, n.note.key.distance(stroke.key).0.abs())
        })
        .map_or(Hand::Left, |n| n.note.hand);
    let beat = clock.ms(place.note.at + Ticks(Ticks::PER_BEAT)) - clock.ms(place.note.at);
    let close = before.is_some_and(|n| stroke.at_ms - time(n) < beat);
    let repeated = close && place.played == Some(stroke.key);
    let (bar, count) = (place.note.bar, place.note.count);
    Some(Extra { stroke: index, key: stroke.key, hand, bar, count, repeated })
}
