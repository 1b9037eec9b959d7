//! What a control can do.

use serde::{Deserialize, Serialize};

/// Something that the player does to the bridge with a control.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, clap::ValueEnum)]
#[serde(rename_all = "kebab-case")]
pub enum Action {
    /// Tap the tempo; a bar of taps starts the song
    Tap,
    /// Start the beat, or stop it
    Start,
    /// End every note, now
    Panic,
    /// The left hand: plays, then root only, then rests
    Left,
    /// The left hand plays the pattern
    LeftPlays,
    /// The left hand plays roots on the beat only
    LeftRoots,
    /// The left hand rests
    LeftRests,
    /// The left hand an octave lower: a pedal while it is down, a key or pad on and off
    OctaveDrop,
    /// The left hand goes on without the right: a pedal while it is down, a key or pad on and off
    Hold,
    /// The next entry of the set
    Next,
    /// The previous entry of the set
    Previous,
    /// An entry of the set by number: a program change, or a dial
    Entry,
    /// The metronome on and off
    Click,
    /// A new song: forget what was heard so far
    Forget,
    /// Tempo, 40 to 240
    Tempo,
    /// Sparing to busy
    Busy,
    /// One figure to many, where the left hand improvises
    Variety,
    /// Straight to swung
    Swing,
    /// Detached to joined
    Length,
    /// Exact to loose
    Loose,
    /// Soft to loud, beside the right hand
    Loudness,
    /// How long a late right hand is waited for, 0 to 150 ms
    Window,
    /// How sure it must be before a note leads to the next chord
    Certainty,
    /// What the left hand plays, by its number in the library: a program change, or a dial
    Pattern,
    /// What the free hand draws from: a dial over all that it knows and the styles
    Style,
}

impl Action {
    /// As written in set-up files and on the command line.
    pub fn name(self) -> String {
        clap::ValueEnum::to_possible_value(&self).map_or(String::new(), |v| v.get_name().to_owned())
    }

    /// In a sentence.
    pub fn about(self) -> String {
        clap::ValueEnum::to_possible_value(&self)
            .and_then(|v| v.get_help().map(ToString::to_string))
            .unwrap_or_default()
    }

    /// Whether it takes a value, not a press.
    pub const fn is_dial(self) -> bool {
        matches!(
            self,
            Self::Tempo
                | Self::Busy
                | Self::Variety
                | Self::Swing
                | Self::Length
                | Self::Loose
                | Self::Loudness
                | Self::Window
                | Self::Certainty
                | Self::Entry
                | Self::Pattern
                | Self::Style
        )
    }

    /// Whether a pedal acts while it is down.
    pub const fn is_held(self) -> bool {
        matches!(self, Self::OctaveDrop | Self::Hold)
    }
}
