//! Reach: which keys the left hand may use now, and how far it can leap.

use crate::pitch::{KeyNumber, PitchClass, Semitones};
use crate::settings::Settings;

/// Where pianists' left hands lie: A2, the median of the lowest left-hand notes
/// in POP909-CL (119 songs, 111,070 notes).
pub const MIDDLE: KeyNumber = KeyNumber::clamped(45);

/// How fast a hand leaves its position, semitones a second beyond its span.
/// By ear: two octaves in the 0.3 s of a beat at 200 a minute, as in stride
/// playing, with an octave of span.
const LEAP_A_SECOND: f64 = 40.0;

/// The shortest time between two strokes of one hand, in seconds. Pianists
/// asked for their fastest melody gave up between 7 and 16 tones a second
/// (Goebl & Palmer, PLoS ONE 7(12), 2013: e50901); an accompaniment stays
/// where all of them could follow.
pub const SHORTEST: f64 = 0.125;

/// The keys that may sound now.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PlayableKeys {
    lowest: u8,
    /// Exclusive.
    end: u8,
    /// Widest struck span in semitones.
    span: i32,
}

impl PlayableKeys {
    /// From the player's range to just below `ceiling`.
    pub fn new(settings: &Settings, ceiling: KeyNumber) -> Self {
        let end = settings.highest.number().saturating_add(1).min(ceiling.number());
        Self { lowest: settings.lowest.number(), end, span: i32::from(settings.reach) }
    }

    /// Whether `key` may sound.
    pub const fn has(&self, key: KeyNumber) -> bool {
        self.lowest <= key.number() && key.number() < self.end
    }

    /// `key` moved by an interval, if that may sound.
    pub fn moved(&self, key: KeyNumber, by: i32) -> Option<KeyNumber> {
        key.transpose(Semitones(by)).filter(|key| self.has(*key))
    }

    /// Every key of `class` that may sound, lowest first.
    pub fn keys(self, class: PitchClass) -> impl Iterator<Item = KeyNumber> {
        let first = i32::from(self.lowest);
        let up = (i32::from(class.number()) - first).rem_euclid(12);
        (first + up..i32::from(self.end)).step_by(12).map(KeyNumber::clamped)
    }

    /// The number of the first key above those that may sound.
    pub const fn end(&self) -> i32 {
        self.end as i32
    }

    /// The highest key that may sound.
    pub fn top(&self) -> f32 {
        f32::from(self.end) - 1.0
    }

    /// How far the hand reaches without moving, in semitones: its span, and
    /// an octave at least, which it gets to by rocking.
    pub fn hand(&self) -> f32 {
        self.span.max(12) as f32
    }

    /// The widest struck span, in semitones.
    pub const fn span(&self) -> i32 {
        self.span
    }

    /// Whether an octave can be struck together.
    pub const fn spans_octave(&self) -> bool {
        self.span >= 12
    }

    /// Whether the hand gets from `from` to `to` in `seconds`.
    pub fn leaps(&self, from: Option<KeyNumber>, to: KeyNumber, seconds: f64) -> bool {
        let Some(from) = from else { return true };
        let Semitones(distance) = to.distance(from);
        f64::from(distance.abs() - self.span.max(12)) <= LEAP_A_SECOND * seconds.max(0.0)
    }
}

/// What it costs to be away from the middle of the register, in semitones of
/// leap: nothing near it, half an octave at the edges where pianists' left hands
/// have 5 and 95 percent of their notes (C♯2 and A♯3, same source). By ear.
pub fn pull(key: KeyNumber) -> f32 {
    let Semitones(away) = key.distance(MIDDLE);
    let weight = if away < 0 { 1.0 / 12.0 } else { 1.0 / 40.0 };
    (away * away) as f32 * weight
}

/// The distance between two keys, in semitones.
pub fn leap(from: KeyNumber, to: KeyNumber) -> f32 {
    to.distance(from).0.abs() as f32
}

/// The candidate that costs least; the lower of two equals.
pub fn cheapest<T>(candidates: impl Iterator<Item = T>, cost: impl Fn(&T) -> f32) -> Option<T> {
    candidates.min_by(|a, b| cost(a).total_cmp(&cost(b)))
}
