//! How true it is what the hand and its report say, beside the chords that
//! people heard.

use std::fmt;

use sinistra_core::play::Role;
use sinistra_core::time::Ticks;
use sinistra_score::LeftNote;

use crate::songs::Label;
use crate::tally::share;

/// So near to a label's change is at it.
const NEAR: Ticks = Ticks(Ticks::PER_BEAT / 8);

/// Said and come true, in bins of a tenth.
#[derive(Clone, Copy, Debug, Default)]
pub struct Calibration {
    bins: [(f64, f64, f64); 10],
}

impl Calibration {
    /// Something was said so surely, and was so.
    pub fn count(&mut self, said: f32, was: bool) {
        let bin = &mut self.bins[((said * 10.0) as usize).min(9)];
        bin.0 += 1.0;
        bin.1 += f64::from(said);
        bin.2 += f64::from(u8::from(was));
    }

    fn sum(&self, from: usize, of: impl Fn(&(f64, f64, f64)) -> f64) -> f64 {
        self.bins[from..].iter().map(of).sum()
    }

    /// Expected calibration error.
    pub fn error(&self) -> f64 {
        self.sum(0, |bin| (bin.1 - bin.2).abs()) / self.sum(0, |bin| bin.0).max(1.0)
    }

    /// Of what was said at least as surely as a bin's lower end, how many came
    /// true, in percent.
    pub fn true_from(&self, bin: usize) -> f64 {
        100.0 * self.sum(bin, |bin| bin.2) / self.sum(bin, |bin| bin.0).max(1.0)
    }
}

impl fmt::Display for Calibration {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let n = self.sum(0, |bin| bin.0).max(1.0);
        let (said, was) = (self.sum(0, |bin| bin.1) / n, self.sum(0, |bin| bin.2) / n);
        let sure = (self.true_from(8), self.sum(8, |bin| bin.0));
        write!(f, "error {:.3}; said {:.1}", self.error(), 100.0 * said)?;
        write!(f, ", true {:.1}; at least .8: {:.1} % true of {};", 100.0 * was, sure.0, sure.1)?;
        for bin in self.bins.iter().filter(|bin| bin.0 > 0.0) {
            write!(f, " {:.0}→{:.0}", 100.0 * bin.1 / bin.0, 100.0 * bin.2 / bin.0)?;
        }
        Ok(())
    }
}

/// What is counted.
#[derive(Clone, Debug, Default)]
pub struct BeliefTally {
    changes: u32,
    /// First notes at a change whose label tells its chord: root or bass,
    /// another tone, a foreign one.
    firsts: [u32; 3],
    /// Foreign ones after which no tone of the chord, no root or bass followed
    /// while it held.
    uncorrected: [u32; 2],
    /// Passing notes; those whose chord comes next; and at its time.
    leads: [u32; 3],
    /// How surely all those were said to, in sum.
    leads_said: f64,
    /// The root of the chord now; of the next one; the joint certainty of leads.
    now: Calibration,
    next: Calibration,
    together: Calibration,
    /// What else the chord now may be, and the next.
    others: [Calibration; 2],
}

impl BeliefTally {
    /// Counts a song.
    pub fn count(&mut self, notes: &[LeftNote], labels: &[Label]) {
        for (n, label) in labels.iter().enumerate() {
            self.changes += 1;
            let end = labels.get(n + 1).map_or(Ticks(i64::MAX), |next| next.at - NEAR);
            self.count_change(notes, label, end);
        }
        for note in notes {
            self.count_note(note, labels);
        }
    }

    fn count_change(&mut self, notes: &[LeftNote], label: &Label, end: Ticks) {
        let Some(chord) = label.chord else { return };
        let first = notes.partition_point(|note| note.played.at < label.at - NEAR);
        let Some(note) = notes.get(first).filter(|note| note.played.at <= label.at + NEAR) else {
            return;
        };
        let fits = |note: &LeftNote| label.fits(note.played.key.class());
        let tone = |note: &LeftNote| chord.tones().has(note.played.key.class()) || fits(note);
        if fits(note) || tone(note) {
            self.firsts[usize::from(!fits(note))] += 1;
            return;
        }
        self.firsts[2] += 1;
        let rest = || notes[first + 1..].iter().take_while(|note| note.played.at < end);
        self.uncorrected[0] += u32::from(!rest().any(tone));
        self.uncorrected[1] += u32::from(!rest().any(fits));
    }

    fn count_note(&mut self, note: &LeftNote, labels: &[Label]) {
        let played = &note.played;
        let Some(here) =
            labels.partition_point(|label| label.at <= played.at + NEAR).checked_sub(1)
        else {
            return;
        };
        let root = labels[here].root;
        self.now.count(played.sure, played.chord.root == root);
        if let Some(other) = played.other {
            self.others[0].count(other.certainty, other.chord.root == root);
        }
        let coming = labels[here..].iter().find(|label| label.root != root);
        let (Some(said), Some(coming)) = (played.next, coming) else { return };
        self.next.count(said.certainty, said.chord.root == coming.root);
        if let Some(other) = said.other {
            self.others[1].count(other.certainty, other.chord.root == coming.root);
        }
        let comes = said.chord.root == coming.root || said.chord.bass == coming.bass;
        let in_time = comes && (said.at - coming.at).0.abs() <= NEAR.0;
        self.together.count(said.together, in_time);
        if played.role == Role::Passing {
            self.leads[0] += 1;
            self.leads_said += f64::from(said.together);
            self.leads[1] += u32::from(comes);
            self.leads[2] += u32::from(in_time);
        }
    }

    /// Of the first notes at a change: root or bass, foreign, in percent.
    pub fn right_and_clash(&self) -> [f64; 2] {
        let all = self.firsts.iter().sum::<u32>();
        [share(self.firsts[0], all), share(self.firsts[2], all)]
    }
}

impl fmt::Display for BeliefTally {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let all = self.firsts.iter().sum::<u32>();
        let [right, tone, clash] = self.firsts.map(|n| share(n, all));
        let of_changes = self.uncorrected.map(|n| share(n, self.changes));
        writeln!(
            f,
            "struck at {:.1} % of {} changes with a known chord: root or bass {right:.1}, \
             another tone {tone:.1}, clash {clash:.1}",
            share(all, self.changes),
            self.changes
        )?;
        writeln!(
            f,
            "clashes not put right within the chord, of changes: by a tone {:.1}, by root or bass {:.1}",
            of_changes[0], of_changes[1]
        )?;
        writeln!(
            f,
            "passing notes {}: said {:.1} %; chord comes {:.1} %, at its time {:.1} %",
            self.leads[0],
            100.0 * self.leads_said / f64::from(self.leads[0].max(1)),
            share(self.leads[1], self.leads[0]),
            share(self.leads[2], self.leads[0])
        )?;
        writeln!(f, "chord now   {}", self.now)?;
        writeln!(f, "  or         {}", self.others[0])?;
        writeln!(f, "next chord  {}", self.next)?;
        writeln!(f, "  or         {}", self.others[1])?;
        write!(f, "next, timed {}", self.together)
    }
}
