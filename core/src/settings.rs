//! What the player may set, in plain values.

use crate::key::Key;
use crate::pitch::KeyNumber;

/// The key of the song.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum KeyChoice {
    /// From the chart if there is one, else from what is heard.
    Auto,
    /// Set by the player.
    Fixed(Key),
}

/// Everything about the left hand that is not the pattern or the chart.
/// A set of plain values: cheap to copy, safe to hand over.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Settings {
    /// Whether the left hand plays at all.
    pub plays: bool,
    /// The lowest key of the right hand; keys below are the player's own left.
    pub split: KeyNumber,
    /// Sparing 0 ..= 100 busy; 50 is the pattern as written.
    pub busy: u8,
    /// One figure 0 ..= 100 many, where the hand improvises; 50 is as pianists do.
    pub variety: u8,
    /// Where the "and" falls in its beat, 0.5 straight ..= 0.75 hard swing.
    pub swing: f32,
    /// Length of a note as a part of the time to the next, 0.1 detached ..= 1 joined.
    pub length: f32,
    /// Loudness beside the right hand, 0.2 ..= 1.5; 1 is as loud.
    pub loudness: f32,
    /// Exact 0 ..= 1 loose: how far notes are spread in time and loudness.
    pub loose: f32,
    /// Whether the left hand takes the damper pedal, changed with the harmony.
    pub pedal: bool,
    /// The lowest key that the left hand may play.
    pub lowest: KeyNumber,
    /// The highest key that the left hand may play.
    pub highest: KeyNumber,
    /// The widest struck span in semitones; 12 is an octave.
    pub reach: u8,
    /// How long a late right hand is waited for on a change, milliseconds.
    pub window_ms: f32,
    /// How sure a forecast must be before a note leads to it, 0..=1.
    pub certainty: f32,
    /// The key of the song.
    pub key: KeyChoice,
    /// MIDI channel of the left hand, 0..=15; `None` is the right hand's own.
    pub channel: Option<u8>,
    /// Chooses among variations; the same seed plays the same.
    pub seed: u64,
    /// Bars that the left hand goes on for after the right hand has let go.
    pub hold_bars: u8,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            plays: true,
            split: KeyNumber::MIDDLE_C,
            busy: 50,
            variety: 50,
            swing: 0.5,
            length: 0.9,
            loudness: 0.85,
            loose: 0.0,
            pedal: false,
            lowest: KeyNumber::clamped(28), // E1, a bass guitar's lowest note
            highest: KeyNumber::clamped(59), // B3, below middle C
            reach: 12,
            window_ms: 60.0,
            certainty: 0.7,
            key: KeyChoice::Auto,
            channel: None,
            seed: 1,
            hold_bars: 1,
        }
    }
}
