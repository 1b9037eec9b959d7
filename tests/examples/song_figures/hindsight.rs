//! A ceiling: the root that hindsight finds where a chord changes, given all that was
//! struck to it and four beats of what follows.

use std::collections::BTreeMap;
use std::fmt;

use sinistra_core::engine::Engine;
use sinistra_core::pitch::PitchClass;
use sinistra_core::time::Ticks;
use sinistra_tests::songs::{Label, LabelledSong};

use crate::gather;

/// Hindsight has judged a half beat for good once so much has followed it.
const JUDGED: Ticks = Ticks(17 * Ticks::PER_BEAT / 4);

/// Until then it is remembered.
const KEPT: Ticks = Ticks(8 * Ticks::PER_BEAT);

/// So near to a label's change is at it.
const NEAR: Ticks = Ticks(Ticks::PER_BEAT / 8);

/// What a left hand that strikes hindsight's root would strike at the changes: the
/// root or bass, another tone, a foreign one.
#[derive(Default)]
pub struct HindsightTally {
    /// By the half beat that a change begins.
    at_once: [u32; 3],
    /// By all half beats until the labelled end.
    whole: [u32; 3],
}

impl HindsightTally {
    pub fn count(&mut self, song: &LabelledSong, engine: &mut Engine) {
        let mut halves = BTreeMap::new();
        gather::each_block(song, engine, |engine, now, _| {
            halves.extend(engine.ear().judged(now - KEPT, now - JUDGED));
        });
        for (n, label) in song.labels.iter().enumerate() {
            let end = song.labels.get(n + 1).map_or(Ticks(i64::MAX), |next| next.at);
            let mut odds = halves.range(label.at - NEAR..end - NEAR).map(|(_, odds)| odds);
            let Some(first) = odds.next() else { continue };
            let sum = odds.fold(*first, |sum, odds| std::array::from_fn(|n| sum[n] + odds[n]));
            count(&mut self.at_once, label, first);
            count(&mut self.whole, label, &sum);
        }
    }
}

fn count(tally: &mut [u32; 3], label: &Label, odds: &[f32; 12]) {
    let Some((root, _)) = PitchClass::likeliest(odds, |_| false) else { return };
    let Some(chord) = label.chord else { return };
    let what = match () {
        () if root == label.root || root == label.bass => 0,
        () if chord.tones().has(root) => 1,
        () => 2,
    };
    tally[what] += 1;
}

impl fmt::Display for HindsightTally {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (name, tally) in [("at once", self.at_once), ("whole chord", self.whole)] {
            let all: u32 = tally.iter().sum();
            let [root, tone, clash] = tally.map(|n| 100.0 * f64::from(n) / f64::from(all.max(1)));
            write!(f, "hindsight, {name}: root or bass {root:.1}, another tone {tone:.1}, ")?;
            writeln!(f, "clash {clash:.1} % of {all}")?;
        }
        Ok(())
    }
}
