//! What a player says between two rounds, in whatever way.

use super::RoundStage;

/// What the player says between two rounds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Answer {
    /// Go on as proposed.
    On,
    /// The same once more.
    Again,
    /// Hear it first.
    Hear,
    /// Hear what was just played.
    Replay,
    /// A step slower.
    Slower,
    /// A step faster.
    Faster,
    /// Play it together with the machine.
    Together,
    /// Play it alone.
    Alone,
    /// Step by step: time stands until each note is right.
    Wait,
    /// Only these printed bars from now on; `None` is all of them.
    Loop(Option<(i64, i64)>),
    /// Stop this round and wait.
    Stop,
    /// The next lesson.
    Next,
    /// Another lesson, that the player picked.
    Picked,
    /// Enough for now.
    Enough,
}

impl Answer {
    /// What is played next after `now`, where `proposal` was proposed.
    #[must_use]
    pub const fn stage(self, now: RoundStage, proposal: RoundStage) -> RoundStage {
        match self {
            Self::On | Self::Slower | Self::Faster => proposal,
            Self::Hear => RoundStage::Hear,
            Self::Together => RoundStage::Together,
            Self::Alone => RoundStage::Alone,
            Self::Wait => RoundStage::Wait,
            _ => now,
        }
    }
}
