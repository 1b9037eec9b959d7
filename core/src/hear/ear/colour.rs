//! Which quality and bass the chord on a known root has.

use super::Ear;
use super::notes::HeardNote;
use super::signs::TOGETHER;
use crate::chord::Chord;
use crate::hear::Expected;
use crate::hear::naming::quality;
use crate::pitch::{KeyNumber, PitchClass, PitchSet, Semitones};
use crate::time::Ticks;

/// A class that has sounded for less than this part of the longest one is
/// passing by (by ear).
const PASSING: f32 = 0.35;

impl Ear {
    /// The chord on `root` from what has sounded since it began. A third that
    /// the hand has not shown comes from what is expected, else from the key.
    pub(super) fn coloured(
        &self,
        root: PitchClass,
        since: Ticks,
        now: Ticks,
        expected: &Expected,
    ) -> Chord {
        let present = self.present.map(|(chord, _)| chord);
        // On the root that holds, the next chord counts when it is due.
        let due = expected.change.is_some_and(|change| change > 0.5);
        let other = present.is_none_or(|chord| chord.root != root);
        let foreseen = root.of(&expected.chords).filter(|_| due || other);
        let tones = self.tones_since(since, now);
        let third = [3, 4].map(|up| root.transpose(Semitones(up)));
        let shown = third.iter().any(|&class| tones.has(class));
        let known = present.filter(|chord| chord.root == root);
        let quality = match (shown, foreseen.or(known)) {
            // Nothing speaks against what was expected.
            (false, Some(chord)) if tones.minus(chord.tones()).len() <= 1 => chord.quality,
            (true, Some(chord)) if tones.minus(chord.tones()).is_empty() && foreseen.is_some() => {
                chord.quality
            }
            (true, _) => quality(tones.with(root), root),
            (false, _) => quality(self.with_third_of_key(tones.with(root), root), root),
        };
        Chord { root, quality, bass: self.bass(root, foreseen.or(known)) }
    }

    /// Suspensions stay; else the third that the key has on `root`.
    fn with_third_of_key(&self, tones: PitchSet, root: PitchClass) -> PitchSet {
        let has = |up| tones.has(root.transpose(Semitones(up)));
        if has(7) && (has(5) || has(2)) {
            return tones;
        }
        let scale = self.key().scale();
        let minor = root.transpose(Semitones(3));
        let major = root.transpose(Semitones(4));
        let third = if scale.has(minor) && !scale.has(major) { minor } else { major };
        tones.with(third)
    }

    /// The own left hand's lowest tone; else the bass of the chord that is
    /// expected or holds; else the root.
    fn bass(&self, root: PitchClass, known: Option<Chord>) -> PitchClass {
        let left = self.own_left();
        if left != 0 {
            return KeyNumber::clamped(left.trailing_zeros() as i32).class();
        }
        known.map_or(root, |chord| chord.bass)
    }

    /// The classes that have sounded since `since`, without passing ones.
    fn tones_since(&self, since: Ticks, now: Ticks) -> PitchSet {
        let mut sums = [0.0f32; 12];
        let with_it = since - TOGETHER;
        // Most are long over.
        let heard =
            |note: &&HeardNote| note.on >= with_it || note.off.is_none_or(|off| off > since);
        for note in self.notes.iter().filter(|note| note.on <= now).filter(heard) {
            let struck = if note.on >= with_it { 0.25 } else { 0.0 };
            *note.class().of_mut(&mut sums) += note.beats(since, now).min(4.0) + struck;
        }
        let most = sums.iter().copied().fold(0.0, f32::max);
        PitchClass::all()
            .filter(|class| {
                let sum = class.of(&sums);
                sum > 0.0 && sum >= most * PASSING
            })
            .collect()
    }
}
