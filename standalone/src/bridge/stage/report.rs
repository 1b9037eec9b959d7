//! What the stage tells the free world.

use sinistra_core::engine::Played;
use sinistra_core::foresee::Song;
use sinistra_core::pitch::KeyNumber;
use sinistra_core::play::Pattern;

use crate::bridge::controls::{Action, Trigger};

/// One piece of news. Those that carry something old bring it home to be
/// dropped.
#[derive(Debug)]
pub enum Report {
    /// A note of the left hand.
    Played(Played),
    /// The beat began.
    Started,
    /// The beat rests.
    Stopped,
    /// The hand that leads has struck nothing for a while: the beat goes on by
    /// itself, at so many quarter notes a minute.
    Coasts(f64),
    /// MIDI clock stopped coming, and its sender has not said stop.
    ClockLost,
    /// A key below the split, the second, was struck: our left hand rests for it.
    Below(KeyNumber, KeyNumber),
    /// A control was used; a setting's new value, in its own unit.
    Did(Action, Option<f64>),
    /// The control that was to be learned.
    Learned(Action, Trigger),
    /// Something that only the free world can do.
    Ask(Ask),
    /// A pattern that is no longer in use.
    OldPattern(Box<Pattern>),
    /// A chart that is no longer in use.
    OldSong(Box<Song>),
}

/// What only the free world can do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ask {
    /// The next entry of the set.
    Next,
    Previous,
    /// An entry by its number, from 0.
    Entry(u8),
    /// The left hand of the library with this number, from 0.
    Pattern(u8),
    /// This part (of 127) of the way over what the free hand may draw from.
    Style(u8),
    /// End every note on every output.
    Panic,
}
