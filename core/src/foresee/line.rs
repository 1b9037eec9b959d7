//! The chords so far once more, a column a value: what looks at every one of
//! them looks at little of each.

use alloc::vec::Vec;

use super::event::{CAPACITY, RootSpan};
use crate::time::Ticks;

/// Columns of the same length, the oldest chord first. Fixed capacity.
#[derive(Debug)]
pub struct RootLine {
    /// When it was struck.
    pub at: Vec<Ticks>,
    /// Its root, C = 0.
    pub roots: Vec<u8>,
    /// Its third and fifth.
    pub triads: Vec<u8>,
    /// Semitones up from the root before it.
    pub moves: Vec<u8>,
    /// Ticks since the chord before it: half as wide as [`Ticks`], so that more are
    /// compared at once.
    pub spans: Vec<i32>,
    /// Whether the hand let go before the next chord.
    pub ended: Vec<bool>,
    /// How sure the ear is of its root, 0 to 1.
    pub sure: Vec<f32>,
}

impl RootLine {
    /// Allocates once.
    pub fn new() -> Self {
        Self {
            at: Vec::with_capacity(CAPACITY),
            roots: Vec::with_capacity(CAPACITY),
            triads: Vec::with_capacity(CAPACITY),
            moves: Vec::with_capacity(CAPACITY),
            spans: Vec::with_capacity(CAPACITY),
            ended: Vec::with_capacity(CAPACITY),
            sure: Vec::with_capacity(CAPACITY),
        }
    }

    /// One more; what there is no room for is left out.
    pub fn push(&mut self, event: &RootSpan) {
        if self.at.len() >= CAPACITY {
            return;
        }
        let before = self.roots.last().copied().unwrap_or(event.root);
        let span = self.at.last().map_or(0, |at| (event.at - *at).0);
        self.at.push(event.at);
        self.roots.push(event.root);
        self.triads.push(event.triad as u8);
        self.moves.push((event.root + 12 - before) % 12);
        let span = span.clamp(i64::from(i32::MIN / 4), i64::from(i32::MAX / 4));
        self.spans.push(i32::try_from(span).unwrap_or(0));
        self.ended.push(event.ended.is_some());
        self.sure.push(1.0);
    }

    /// Only the first `len` are left.
    pub fn truncate(&mut self, len: usize) {
        self.at.truncate(len);
        self.roots.truncate(len);
        self.triads.truncate(len);
        self.moves.truncate(len);
        self.spans.truncate(len);
        self.ended.truncate(len);
        self.sure.truncate(len);
    }

    /// The `gone` oldest are no longer remembered.
    pub fn forget_oldest(&mut self, gone: usize) {
        let gone = gone.min(self.at.len());
        self.at.drain(..gone);
        self.roots.drain(..gone);
        self.triads.drain(..gone);
        self.moves.drain(..gone);
        self.spans.drain(..gone);
        self.ended.drain(..gone);
        self.sure.drain(..gone);
    }

    /// The ear is now so sure of the root of chord `index`, 0 to 1.
    pub fn doubt(&mut self, index: usize, sure: f32) {
        if let Some(slot) = self.sure.get_mut(index) {
            *slot = sure;
        }
    }

    /// Whether the hand let go of the last one.
    pub fn end(&mut self, ended: bool) {
        if let Some(last) = self.ended.last_mut() {
            *last = ended;
        }
    }
}
