//! The tables and weights that foresight was given.

use super::odds::OddsTable;
use crate::net::Net;

/// Everything learned from other songs. What this song says is learned on
/// the way and outweighs it.
#[derive(Clone, Copy, Debug)]
pub struct ForesightModel {
    /// Chord-to-chord odds.
    pub odds: OddsTable,
    /// Scores the next root.
    pub roots: Net,
    /// Scores the time of the next change.
    pub times: Net,
}
