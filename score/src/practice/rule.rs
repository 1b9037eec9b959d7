//! The free exercise: any left hand counts that the rule allows.
//!
//! The rule is that of [`sinistra_core::play`]: the bass on the change; elsewhere a
//! tone of the chord; just before a change also the one scale note between
//! roots a third apart.

use super::align::{AskedKeys, Onset, TakeClock, TakeReference, clock_of};
use super::figures;
use super::manner::manners;
use super::take::{Take, TakeStroke};
use super::target::TargetNote;
use super::tolerance::Tolerance;
use super::verdict::{Extra, NoteVerdict, Outcome, Verdict};
use super::whole::Whole;
use sinistra_core::chord::Chord;
use sinistra_core::key::{Key, WrittenKey};
use sinistra_core::pitch::{KeyNumber, PitchClass, PitchSet};
use sinistra_core::play::{Role, Scale, limits};
use sinistra_core::time::Ticks;

/// A place where something is to be played.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RulePlace {
    /// The place, with the note that the model plays there.
    pub model: TargetNote,
    /// The chord that holds.
    pub chord: Chord,
    /// Whether the chord starts here, so that its bass is asked for.
    pub starts: bool,
    /// The next chord, if this is the last place before it.
    pub next: Option<Chord>,
}

/// What is asked for in a free exercise.
#[derive(Clone, Debug, PartialEq)]
pub struct FreeRule {
    /// In time order.
    pub places: Vec<RulePlace>,
    /// The key of the song.
    pub key: WrittenKey,
    /// Quarter notes a minute.
    pub tempo: f64,
    /// The felt beat.
    pub pulse: Ticks,
    /// Keys from here on belong to the right hand.
    pub split: KeyNumber,
}

/// A stroke farther from its place than this part of the way to the next
/// belongs to no place.
const REACH: f64 = 0.5;

impl RulePlace {
    /// What `key` is here, if the rule allows it.
    fn role(&self, key: KeyNumber, song: Key) -> Option<Role> {
        let class = key.class();
        let Chord { root, bass, .. } = self.chord;
        if class == bass {
            return Some(if bass == root { Role::Root } else { Role::Bass });
        }
        if self.starts {
            return None;
        }
        if self.chord.tones().has(class) {
            return Some(named(self.chord, class));
        }
        let between =
            self.next.and_then(|next| Scale::of(song, self.chord).between(bass, next.bass));
        (between == Some(class)).then_some(Role::Passing)
    }

    fn allowed(&self, song: Key) -> PitchSet {
        let allows = |class: &PitchClass| {
            self.role(KeyNumber::clamped(36 + class.index() as i32), song).is_some()
        };
        PitchClass::all().filter(allows).collect()
    }
}

/// The role of a chord tone.
fn named(chord: Chord, class: PitchClass) -> Role {
    match class.above(chord.root) {
        0 => Role::Root,
        _ if chord.third() == Some(class) => Role::Third,
        _ if chord.fifth() == Some(class) => Role::Fifth,
        _ if chord.seventh() == Some(class) => Role::Seventh,
        9 => Role::Sixth,
        _ => Role::Ninth,
    }
}

/// Judges a take by the rule. `None` if nothing of it answers.
#[must_use]
pub fn judge_rule(rule: &FreeRule, take: &Take, beat: TakeReference) -> Option<Verdict> {
    let strokes: Vec<(usize, TakeStroke)> =
        take.strokes().iter().copied().enumerate().filter(|(_, s)| s.key < rule.split).collect();
    let left = Take::new(strokes.iter().map(|(_, stroke)| *stroke).collect());
    let onsets: Vec<Onset> = rule
        .places
        .iter()
        .map(|place| Onset {
            at: place.model.at,
            on_pulse: place.model.on_pulse,
            asked: AskedKeys::AnyOf(place.chord.bass, place.allowed(rule.key.key())),
        })
        .collect();
    let clock = clock_of(&onsets, &left, beat, rule.tempo)?;
    let tempo = match beat {
        TakeReference::Metronome { tempo, .. } => tempo,
        TakeReference::Own => clock.tempo(rule.places.get(rule.places.len() / 2)?.model.at),
    };
    let tolerance = Tolerance::at(rule.pulse.beats() * 60_000.0 / tempo);
    let answers = answers(rule, &strokes, &clock);
    let mut notes = Vec::new();
    let mut extras = Vec::new();
    for (place, answers) in rule.places.iter().zip(&answers) {
        let (note, spare) = judge_place(place, answers, rule.key.key(), &clock, tolerance);
        notes.push(note);
        extras.extend(spare);
    }
    notes.iter().any(|note: &NoteVerdict| note.stroke.is_some()).then(|| {
        let figures = figures::figures(&notes, &clock, tempo);
        let beat_ms = rule.pulse.beats() * 60_000.0 / tempo;
        let manners = manners(&notes, &figures, tolerance, beat_ms, (take, &clock));
        Verdict { notes, extras, figures, tolerance, clock, whole: Whole::default(), manners }
    })
}

/// The strokes near each place.
fn answers(
    rule: &FreeRule,
    strokes: &[(usize, TakeStroke)],
    clock: &TakeClock,
) -> Vec<Vec<(usize, TakeStroke)>> {
    let due: Vec<f64> = rule.places.iter().map(|place| clock.ms(place.model.at)).collect();
    let mut answers = vec![Vec::new(); due.len()];
    for (index, stroke) in strokes {
        let after = due.partition_point(|due| *due <= stroke.at_ms);
        let off = |place: usize| (stroke.at_ms - due[place]).abs();
        let near = [after.checked_sub(1), (after < due.len()).then_some(after)];
        let Some(place) = near.into_iter().flatten().min_by(|a, b| off(*a).total_cmp(&off(*b)))
        else {
            continue;
        };
        let gap = match (place.checked_sub(1), due.get(place + 1)) {
            (_, Some(next)) => next - due[place],
            (Some(before), None) => due[place] - due[before],
            (None, None) => 1_000.0,
        };
        if off(place) <= REACH * gap {
            answers[place].push((*index, *stroke));
        }
    }
    answers
}

/// The best answer at a place, and what was struck besides and is not allowed.
fn judge_place(
    place: &RulePlace,
    answers: &[(usize, TakeStroke)],
    key: Key,
    clock: &TakeClock,
    tolerance: Tolerance,
) -> (NoteVerdict, Vec<Extra>) {
    let due = clock.ms(place.model.at);
    let wrong = |stroke: &TakeStroke| place.role(stroke.key, key).is_none();
    let chosen = answers.iter().min_by(|a, b| {
        let far = |s: &TakeStroke| (s.at_ms - due).abs();
        wrong(&a.1).cmp(&wrong(&b.1)).then(far(&a.1).total_cmp(&far(&b.1)))
    });
    let Some((index, stroke)) = chosen else {
        let note = NoteVerdict {
            note: place.model,
            outcome: Outcome::Missed,
            late_ms: None,
            stroke: None,
            played: None,
            rule: Some(*place),
        };
        return (note, Vec::new());
    };
    let late = stroke.at_ms - due;
    let role = place.role(stroke.key, key);
    let outcome = match role {
        None => Outcome::Wrong,
        Some(_) if late > tolerance.note_ms => Outcome::Late,
        Some(_) if late < -tolerance.note_ms => Outcome::Early,
        Some(_) => Outcome::Right,
    };
    let asked = if role.is_some() { stroke.key } else { place.model.key };
    let note = NoteVerdict {
        note: TargetNote { key: asked, role: role.or(place.model.role), ..place.model },
        outcome,
        late_ms: Some(late),
        stroke: Some(*index),
        played: Some(stroke.key),
        rule: Some(*place),
    };
    let spare = answers
        .iter()
        .filter(|(other, s)| other != index && (wrong(s) || growls(s, stroke, tolerance)))
        .map(|(other, s)| Extra {
            stroke: *other,
            key: s.key,
            hand: place.model.hand,
            bar: place.model.bar,
            count: place.model.count,
            repeated: false,
        })
        .collect();
    (note, spare)
}

/// Struck together closer than low interval limits allow.
fn growls(a: &TakeStroke, b: &TakeStroke, tolerance: Tolerance) -> bool {
    let (low, high) = if a.key < b.key { (a, b) } else { (b, a) };
    (a.at_ms - b.at_ms).abs() <= tolerance.together_ms && limits::muddy(low.key, high.key)
}

#[cfg(test)]
mod tests;
