//! A stroke: the notes that the left hand strikes at one time.

use arrayvec::ArrayVec;

use super::{Role, Voice, Why};
use crate::pitch::KeyNumber;
use crate::time::Ticks;

/// A note that the left hand is to play.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Note {
    /// The key.
    pub key: KeyNumber,
    /// 1..=127.
    pub velocity: u8,
    /// What it is to its chord.
    pub role: Role,
    /// The voice that it belongs to.
    pub voice: Voice,
    /// When it starts.
    pub from: Ticks,
    /// When it ends at the latest, after `from`. The next stroke ends it too.
    pub until: Ticks,
    /// Why it is struck.
    pub why: Why,
}

/// The notes of one stroke, lowest first; none is a rest.
pub type Stroke = ArrayVec<Note, 4>;
