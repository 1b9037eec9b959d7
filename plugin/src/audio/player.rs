//! The left hand at work: stretches of time and a right hand in, notes out.

use sinistra_core::engine::{Block, Engine, Timed};
use sinistra_panel::take::{TakeLog, Tape};

use super::clock::BlockStretch;
use super::merge::LeftOutput;

/// A part of a block: frames `from..until` of `frames`.
#[derive(Clone, Copy, Debug)]
pub struct SubBlock {
    /// The first frame.
    pub from: u32,
    /// The frame after the last.
    pub until: u32,
    /// Frames in the whole block.
    pub frames: u32,
    /// Frames a second.
    pub rate: f64,
}

impl SubBlock {
    /// Gives `take` each stretch of the part, with its number, its clock at its
    /// first frame here, its length, and what the player did in it.
    pub fn each(
        self,
        stretches: &[BlockStretch],
        mut heard: &mut [Timed],
        mut take: impl FnMut(usize, BlockStretch, u32, &[Timed]),
    ) {
        for (n, stretch) in stretches.iter().enumerate() {
            let end = stretches.get(n + 1).map_or(self.frames, |next| next.from).min(self.until);
            let start = stretch.from.max(self.from);
            // An empty block is played all the same: it may bring events.
            if start >= end && self.frames > 0 {
                continue;
            }
            let mine = heard.partition_point(|event| event.frame < end.max(1));
            let (events, rest) = heard.split_at_mut(mine);
            heard = rest;
            for event in events.iter_mut() {
                event.frame = event.frame.saturating_sub(start);
            }
            take(n, stretch.read_at(start, self.rate), end.saturating_sub(start), events);
        }
    }
}

/// The engine, what it has just played, and the tape of it.
pub struct BlockPlayer {
    /// The left hand.
    pub engine: Engine,
    /// What it plays in this part.
    pub left: LeftOutput,
    /// What goes to the log.
    pub tape: Tape,
}

impl BlockPlayer {
    /// Plays one part of a block. `ahead` says of stretch n how far the right
    /// hand was heard ahead there. Real-time safe.
    pub fn play(
        &mut self,
        part: SubBlock,
        stretches: &[BlockStretch],
        heard: &mut [Timed],
        log: &TakeLog,
        lead: impl Fn(usize, &mut Engine),
    ) {
        part.each(stretches, heard, |n, stretch, frames, events| {
            lead(n, &mut self.engine);
            self.left.start_at(stretch.from);
            let (rate, transport) = (part.rate, stretch.transport);
            self.engine.process(&Block { frames, rate, transport, events }, &mut self.left);
            self.tape.run(&transport, frames, rate, log);
            for (frame, stroke) in self.left.strokes.drain(..) {
                self.tape.stroke(f64::from(frames.saturating_sub(frame)) / rate, stroke, log);
            }
        });
    }
}
