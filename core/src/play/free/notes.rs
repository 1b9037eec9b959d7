//! Keys as notes: how loud, how long, one after the other where the hand must roll.

use super::voicing::{Keys, StruckKey};
use super::{FreeHand, figure};
use crate::chord::Chord;
use crate::maths;
use crate::pitch::KeyNumber;
use crate::play::why::{FigureOf, Heard, Rule, Why};
use crate::play::{Moment, Note, Stroke, Voice};
use crate::settings::Settings;
use crate::time::{Place, Ticks};

/// How loud pianists' left hands are beside their right: the song's mean, and
/// what the bar adds to it (POP909-CL, velocity; correlation over songs .90,
/// over the bars of a song .48).
const LOUD: (f32, f32, f32) = (8.5, 0.77, 0.5);

/// How soon after each other the notes of a stroke are struck that is wider than the
/// hand, in milliseconds, and the most of a sixteenth that all of it takes: the rhythm
/// stays. By ear.
const ROLL: (f64, f64) = (35.0, 0.3);

/// The setting of loudness at which the left hand is as loud as pianists'.
const USUAL_LOUDNESS: f32 = 0.85;

/// The setting of length at which notes are as long as pianists'.
const USUAL_LENGTH: f32 = 0.9;

impl FreeHand {
    /// Why a stroke in the bar at `place` is struck.
    pub(super) fn why(&self, place: Place, rule: Rule) -> Why {
        let open = self.open.as_ref().filter(|open| open.line == place.bar);
        let (bar, heard) = open.map_or((0, Heard::Beginning), |open| (open.bar, open.heard));
        Why { figure: FigureOf::Book(bar), rule, heard, rolled: false }
    }

    /// The keys as notes: as loud as pianists beside such a right hand, and as
    /// long as theirs, but no longer than the chord if that surely changes.
    pub(super) fn notes(
        &self,
        keys: &Keys,
        why: Why,
        moment: &Moment,
        settings: &Settings,
    ) -> Stroke {
        let (base, song, bar) = LOUD;
        let now = f32::from(moment.loudness);
        let asked = base + song * self.right.loudness + bar * (now - self.right.loudness);
        let longer = f64::from(settings.length.clamp(0.05, 1.0) / USUAL_LENGTH);
        let change = moment.next.filter(|next| {
            next.certainty.min(next.when_certainty) >= settings.certainty && next.at > moment.at
        });
        let ends = keys.first().zip(keys.last());
        let span = ends.map_or(0, |(low, high)| high.key.distance(low.key).0);
        let rolled = span > i32::from(settings.reach);
        let most = ROLL.1 * figure::SIXTEENTH.0 as f64 / keys.len().max(1) as f64;
        let step = if rolled {
            Ticks::of_ms(ROLL.0, moment.tempo).min(Ticks(maths::whole(most)))
        } else {
            Ticks::ZERO
        };
        let why = Why { rolled, ..why };
        let note = |(index, key): (usize, &StruckKey)| {
            let from = moment.at + Ticks(step.0 * index as i64);
            let held = Ticks(maths::whole(key.length.0 as f64 * longer).max(1));
            let wrong = change.filter(|next| !belongs(key.key, next.chord));
            let until = (moment.at + held).min(wrong.map_or(Ticks(i64::MAX), |next| next.at));
            let velocity = (asked + key.push) * settings.loudness / USUAL_LOUDNESS;
            let velocity = maths::velocity(velocity);
            Note {
                key: key.key,
                velocity,
                role: key.role,
                voice: Voice::Bass,
                from,
                until: until.max(from + Ticks(1)),
                why,
            }
        };
        keys.iter().enumerate().map(note).collect()
    }
}

/// Whether `key` is a tone of `chord`, or its bass.
pub fn belongs(key: KeyNumber, chord: Chord) -> bool {
    chord.tones().has(key.class()) || key.class() == chord.bass
}
