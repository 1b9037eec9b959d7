//! What a left hand does: which tones, when, how low, how wide, how often.

use std::fmt;

use sinistra_core::time::Ticks;

use sinistra_tests::songs::Label;

/// A note: when it is struck, its key, the start of the bar that it is in.
#[derive(Clone, Copy, Debug)]
pub struct TimedKey {
    pub at: Ticks,
    pub key: u8,
    pub bar: Ticks,
}

/// Counts of strokes (notes struck together), by their lowest note.
#[derive(Default)]
pub struct LeftHands {
    strokes: u32,
    /// Lowest note is root, fifth, third of the labelled chord.
    tones: [u32; 3],
    firsts: [u32; 2],
    /// On the beat, on the "and", on sixteenths.
    places: [u32; 3],
    /// On the "and": root, fifth, third.
    and: [u32; 3],
    octaves: u32,
    keys: Vec<u8>,
    spans: Vec<u8>,
    a_bar: Vec<u8>,
}

/// Notes this near to each other are one stroke.
const TOGETHER: Ticks = Ticks(Ticks::PER_BEAT / 16);

impl LeftHands {
    /// Counts a song's left hand, in time order.
    pub fn count(&mut self, notes: &[TimedKey], labels: &[Label]) {
        let (mut rest, mut chord, mut bar) = (notes, None, None);
        while let Some(&first) = rest.first() {
            let together = rest.iter().take_while(|note| note.at <= first.at + TOGETHER).count();
            let (stroke, later) = rest.split_at(together);
            rest = later;
            if bar != Some(first.bar) {
                self.a_bar.push(0);
                bar = Some(first.bar);
            }
            if let Some(count) = self.a_bar.last_mut() {
                *count += 1;
            }
            let near = first.at + Ticks(Ticks::PER_BEAT / 8);
            let index = labels.partition_point(|label| label.at <= near).checked_sub(1);
            let Some(label) = index.and_then(|index| labels.get(index)) else { continue };
            self.stroke(stroke, label, chord != index);
            chord = index;
        }
    }

    fn stroke(&mut self, stroke: &[TimedKey], label: &Label, begins: bool) {
        let keys = || stroke.iter().map(|note| note.key);
        let (Some(low), Some(high)) = (keys().min(), keys().max()) else { return };
        self.strokes += 1;
        self.keys.push(low);
        self.spans.push(high - low);
        self.octaves += u32::from(keys().any(|key| key == low + 12));
        let above = (usize::from(low) + 12 - label.root.index()) % 12;
        let tone = [above == 0, above == 7, above == 3 || above == 4].map(u32::from);
        let add = |sums: &mut [u32; 3]| sums.iter_mut().zip(tone).for_each(|(sum, n)| *sum += n);
        add(&mut self.tones);
        if begins {
            self.firsts[0] += 1;
            self.firsts[1] += tone[0];
        }
        let at = stroke[0].at + Ticks(Ticks::PER_BEAT / 8);
        let place = match (at - stroke[0].bar).0.rem_euclid(Ticks::PER_BEAT) * 4 / Ticks::PER_BEAT {
            0 => 0,
            2 => 1,
            _ => 2,
        };
        self.places[place] += 1;
        if place == 1 {
            add(&mut self.and);
        }
    }
}

/// The value that so many percent of the values are below or at.
fn percentile(values: &[u8], percent: usize) -> u8 {
    let mut values = values.to_vec();
    values.sort_unstable();
    let index = values.len().saturating_sub(1) * percent / 100;
    values.get(index).copied().unwrap_or(0)
}

impl fmt::Display for LeftHands {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let share = |part: u32, all: u32| 100.0 * f64::from(part) / f64::from(all.max(1));
        let three = |of: [u32; 3], all: u32| of.map(|n| format!("{:.0}", share(n, all))).join(" ");
        let spread =
            |values: &[u8]| [5, 50, 95].map(|p| percentile(values, p).to_string()).join(" ");
        writeln!(f, "  {} strokes", self.strokes)?;
        writeln!(f, "  root, fifth, third            {} %", three(self.tones, self.strokes))?;
        writeln!(
            f,
            "  first of a chord: root        {:.0} %",
            share(self.firsts[1], self.firsts[0])
        )?;
        writeln!(f, "  beat, and, sixteenths         {} %", three(self.places, self.strokes))?;
        writeln!(f, "  on the and: root, fifth, third {} %", three(self.and, self.places[1]))?;
        writeln!(f, "  keys, 5th 50th 95th percentile {}", spread(&self.keys))?;
        writeln!(f, "  span in semitones             {}", spread(&self.spans))?;
        writeln!(f, "  octaves                       {:.0} %", share(self.octaves, self.strokes))?;
        write!(f, "  strokes a bar                 {}", spread(&self.a_bar))
    }
}
