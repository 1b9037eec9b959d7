//! How our left hand does beside the chords that people heard.

use std::fmt;

use sinistra_core::engine::Settings;
use sinistra_core::pitch::{KeyNumber, PitchClass};
use sinistra_core::play::{Role, Scale, limits};
use sinistra_core::time::Ticks;
use sinistra_score::LeftNote;

use crate::songs::Label;

/// What is counted.
#[derive(Default)]
pub struct Tally {
    changes: u32,
    /// A left-hand note starts with the change, and is its root or bass.
    struck: u32,
    right: u32,
    /// The label tells its whole chord, and the note is another tone of it.
    whole: u32,
    tone: u32,
    /// The first left-hand note within a beat of the change is its root or bass.
    soon: u32,
    /// Strokes of ours that begin a chord (first note to another root).
    starts: u32,
    starts_right: u32,
    notes: u32,
    right_leads: u32,
    wrong_leads: u32,
    neutral: u32,
    /// A rule has a note that leads from the chord played to the one that comes,
    /// and the chord had a stroke beside its first for it; how many led. First
    /// passing notes and fifths, then thirds that the hand has high enough
    /// above the root, then those that would lie too low or too far away.
    offered: [(u32, u32); 3],
    broken: u32,
}

/// Shares in percent.
impl Tally {
    /// Changes with which a left-hand note starts.
    pub fn struck(&self) -> f64 {
        share(self.struck, self.changes)
    }

    /// Of these, those with the root or the bass.
    pub fn right(&self) -> f64 {
        share(self.right, self.struck)
    }

    /// Of these, those with another tone of the labelled chord; `None` where
    /// the labels tell no more than root and bass.
    pub fn tone(&self) -> Option<f64> {
        (self.whole > 0).then(|| share(self.tone, self.whole))
    }

    /// Changes whose root or bass comes within a beat.
    pub fn soon(&self) -> f64 {
        share(self.soon, self.changes)
    }

    /// Our own chord starts that have the labelled root or bass.
    pub fn starts_right(&self) -> f64 {
        share(self.starts_right, self.starts)
    }

    /// Changes before which the last note led to the chord that came; to
    /// another; nowhere.
    pub fn leads(&self) -> [f64; 3] {
        [self.right_leads, self.wrong_leads, self.neutral].map(|part| share(part, self.changes))
    }

    /// Changes to which a passing note or the fifth led, of those where it can.
    pub fn led(&self) -> f64 {
        share(self.offered[0].1, self.offered[0].0)
    }

    /// Notes that are no tone of their chord, or as high as the right hand.
    pub fn broken(&self) -> u32 {
        self.broken
    }
}

/// In percent.
pub fn share(part: u32, whole: u32) -> f64 {
    100.0 * f64::from(part) / f64::from(whole.max(1))
}

impl fmt::Display for Tally {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let t = self;
        writeln!(f, "{} changes of root or bass, {} left-hand notes", t.changes, t.notes)?;
        writeln!(f, "change struck at its start      {:5.1} %", t.struck())?;
        writeln!(f, "  of these, root or bass right  {:5.1} %", t.right())?;
        if let Some(tone) = t.tone() {
            writeln!(f, "  another tone of the chord     {tone:5.1} %")?;
        }
        writeln!(f, "first note within a beat right  {:5.1} %", t.soon())?;
        writeln!(f, "our chord starts: right         {:5.1} % of {}", t.starts_right(), t.starts)?;
        let [right, wrong, neutral] = t.leads();
        writeln!(
            f,
            "last note before a change: right lead {right:.1} %, neutral {neutral:.1} %, \
             wrong lead {wrong:.1} %"
        )?;
        let names = ["passing note or fifth", "third", "third out of reach"];
        for (name, (offered, led)) in names.iter().zip(t.offered) {
            let share = share(led, offered);
            writeln!(f, "where a {name} leads there: led {share:.1} % of {offered}")?;
        }
        write!(f, "notes that break a guarantee    {}", t.broken)
    }
}

/// Counts a song.
pub fn count(tally: &mut Tally, notes: &[LeftNote], labels: &[Label]) {
    let near = Ticks(Ticks::PER_BEAT / 8);
    tally.notes += notes.len() as u32;
    for (n, label) in labels.iter().enumerate() {
        tally.changes += 1;
        let fits = |note: &LeftNote| label.fits(note.played.key.class());
        let end = labels.get(n + 1).map_or(Ticks(i64::MAX), |next| next.at);
        let first = notes.partition_point(|note| note.played.at < label.at - near);
        if let Some(note) = notes.get(first).filter(|note| note.played.at <= label.at + near) {
            tally.struck += 1;
            tally.right += u32::from(fits(note));
            if let Some(chord) = label.chord {
                tally.whole += 1;
                let tone = chord.tones().has(note.played.key.class());
                tally.tone += u32::from(tone && !fits(note));
            }
        }
        let soon = (label.at + Ticks(Ticks::PER_BEAT)).min(end);
        if notes[first..].iter().take_while(|note| note.played.at < soon).any(fits) {
            tally.soon += 1;
        }
        if let Some(before) = first.checked_sub(1).and_then(|n| notes.get(n)) {
            let right = tally.right_leads;
            lead(tally, before, label);
            let earlier = &notes[..first - 1];
            let again = earlier.last().is_some_and(|n| n.played.chord == before.played.chord);
            if let Some(rule) = offered(before, earlier, label).filter(|_| again) {
                tally.offered[rule].0 += 1;
                tally.offered[rule].1 += tally.right_leads - right;
            }
        }
    }
    let label_at = |at: Ticks| {
        labels.partition_point(|label| label.at <= at + near).checked_sub(1).map(|n| &labels[n])
    };
    for (n, note) in notes.iter().enumerate() {
        let before = n.checked_sub(1).map(|n| notes[n].played.chord);
        let starts = before.is_none_or(|b| b.root != note.played.chord.root);
        if let (true, Some(label)) = (starts, label_at(note.played.at)) {
            tally.starts += 1;
            tally.starts_right += u32::from(label.fits(note.played.key.class()));
        }
        let tone = note.played.chord.tones().has(note.played.key.class())
            || note.played.key.class() == note.played.chord.bass
            || note.played.role == Role::Passing;
        tally.broken += u32::from(!tone || note.played.key >= KeyNumber::MIDDLE_C);
    }
}

/// Whether the last note before a change led to the chord that came.
fn lead(tally: &mut Tally, note: &LeftNote, next: &Label) {
    let class = note.played.key.class();
    let meant = note.played.next.map(|next| next.chord.root);
    match note.played.role {
        Role::Passing if meant == Some(next.root) => tally.right_leads += 1,
        Role::Passing => tally.wrong_leads += 1,
        Role::Fifth | Role::Third | Role::Seventh if class == next.root || class == next.bass => {
            tally.right_leads += 1;
        }
        Role::Third if [1, 2, 10, 11].contains(&class.above(next.root)) => tally.right_leads += 1,
        Role::Third | Role::Seventh => tally.wrong_leads += 1,
        _ => tally.neutral += 1,
    }
}

/// The rule that has a note from what was played to what came, by the order of
/// the rules: 0 for a passing note or the fifth, 1 for a third a step away, 2 if
/// the hand has none of those thirds.
fn offered(note: &LeftNote, earlier: &[LeftNote], next: &Label) -> Option<usize> {
    let chord = note.played.chord;
    if chord.bass == next.bass {
        return None;
    }
    let between = Scale::of(note.played.song_key, chord).between(chord.bass, next.bass);
    if between.is_some() || chord.fifth() == Some(next.bass) {
        return Some(0);
    }
    let apart = |class: PitchClass| class.above(next.bass).min(next.bass.above(class));
    let third = chord.third().filter(|&third| (1..=2).contains(&apart(third)))?;
    Some(if at_hand(third, note, earlier) { 1 } else { 2 })
}

/// Whether the hand has a key of `class` in its range, high enough above the
/// root and the note struck last, and no more than an octave and a step away.
fn at_hand(class: PitchClass, note: &LeftNote, earlier: &[LeftNote]) -> bool {
    let settings = Settings::default();
    let here = earlier.iter().rev().take_while(|n| n.played.chord == note.played.chord);
    let last = earlier.last().map(|n| n.played.key);
    let root = here.filter(|n| n.played.key.class() == note.played.chord.bass).last();
    let struck = [last, root.map(|n| n.played.key)];
    let clear = |key: KeyNumber| {
        let far = last.is_some_and(|last| key.distance(last).0.abs() > 14);
        let low = |under: KeyNumber| under < key && limits::growls(under, key);
        !far && !struck.into_iter().flatten().any(low)
    };
    let range = settings.lowest.number()..=settings.highest.number();
    range.map(|key| KeyNumber::clamped(key.into())).any(|key| key.class() == class && clear(key))
}
