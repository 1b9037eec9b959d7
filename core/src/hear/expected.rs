//! What foresight expects at a moment, before the hand is heard.

use crate::chord::Chord;

/// Handed from foresight to hearing. Plain values; nothing known is
/// [`Expected::NOTHING`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Expected {
    /// How likely each root (index: [`crate::pitch::PitchClass::index`]) is
    /// the next one if the chord changes here. Adds up to 1; flat if unknown.
    pub odds: [f32; 12],
    /// How likely a change is at this very place (to the nearest sixteenth),
    /// given that none came since the present chord was struck; 0..=1.
    /// `None` if foresight does not say: the metre alone decides then.
    pub change: Option<f32>,
    /// The chord expected on each root, where one is known (chart, memory):
    /// it decides the quality when the hand does not show it.
    pub chords: [Option<Chord>; 12],
    /// Whether a chart or a right hand heard ahead says so; else it is a guess.
    pub told: bool,
    /// What an ear thinks that has heard what follows, if the right hand is heard
    /// ahead of time.
    pub ahead: Option<AheadOdds>,
}

/// How likely each root holds by an ear that has heard what follows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AheadOdds {
    /// The odds; they add up to 1.
    pub roots: [f32; 12],
    /// Whether it has heard all that it asks for, four beats.
    pub whole: bool,
}

impl Expected {
    /// Nothing is known.
    pub const NOTHING: Self =
        Self { odds: [1.0 / 12.0; 12], change: None, chords: [None; 12], told: false, ahead: None };
}

impl Default for Expected {
    fn default() -> Self {
        Self::NOTHING
    }
}
