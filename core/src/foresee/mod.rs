//! Foresee: what chord comes next, when, and how sure that is.
#![cfg_attr(
    not(test),
    deny(clippy::indexing_slicing, clippy::cast_possible_truncation, clippy::cast_sign_loss)
)] // never panics

pub mod chart;
mod clock;
mod columns;
pub mod event;
pub mod follower;
mod foresight;
mod guide;
pub mod history;
mod line;
pub mod model;
pub mod odds;
pub mod outlook;
pub mod repeats;
pub mod root_features;
mod root_votes;
pub mod running;
mod sections;
mod song;
mod song_change;
mod tables;
pub mod time_features;
pub mod triad;

pub use follower::{ChartPosition, Follower};
pub use foresight::{Foresight, WRITTEN};
pub use guide::Followed;
pub use sections::SectionBar;
pub use song::{Song, SongBar, SongChord};
pub use song_change::SongChange;
pub use tables::MODEL;

use crate::chord::{Chord, NamedChord};
use crate::time::Ticks;

/// Where a forecast comes from, best first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Source {
    /// The chart says so.
    Chart,
    /// A recorded right hand, looked at before it sounds.
    LookAhead,
    /// This song so far.
    Memory,
    /// Chord-to-chord odds from open data.
    Odds,
}

impl Source {
    /// In reports and on screens.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Chart => "chart",
            Self::LookAhead => "look-ahead",
            Self::Memory => "memory",
            Self::Odds => "odds",
        }
    }
}

/// What comes next.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Forecast {
    /// The next chord (its root differs from the present one, or its bass does).
    pub chord: Chord,
    /// When it comes.
    pub at: Ticks,
    /// How sure its root is, 0..=1.
    pub certainty: f32,
    /// How sure its time is (to a quarter of a beat), 0..=1.
    pub when_certainty: f32,
    /// How sure it is that it comes, at that time, the ear's doubt of the chord
    /// now counted in, 0..=1: what a note that leads there goes by.
    pub together: f32,
    /// Who says so.
    pub source: Source,
    /// What else may come, if anything is worth a word.
    pub other: Option<NamedChord>,
}

impl Forecast {
    /// `chord` comes at `at`; root and time are as sure as that.
    pub const fn new(chord: Chord, at: Ticks, certainty: f32, source: Source) -> Self {
        let (when_certainty, together) = (certainty, certainty);
        Self { chord, at, certainty, when_certainty, together, source, other: None }
    }
}
