//! What a pattern file writes for one metre.

use alloc::vec::Vec;

use super::part::Parts;
use crate::time::{Metre, Ticks};

/// One or more bars that a pattern file writes for a metre.
#[derive(Clone, Debug, PartialEq)]
pub struct WrittenBars {
    /// Which left hand of the library it is from, by its number from 1; 0 for a
    /// pattern of its own.
    pub library: u16,
    /// The metre.
    pub metre: Metre,
    /// Bar after bar, each with its places and what is played there, in time order.
    pub bars: Vec<Vec<(Ticks, Parts)>>,
}
