//! The engine run over a recorded right hand, block by block, as if live.

use crate::engine::{Block, Engine, Message, Output, Played, Timed};
use crate::score::Timeline;

/// A note that the left hand played.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LeftNote {
    /// Frames from the start of the song.
    pub on: i64,
    /// Frames from the start of the song; after `on`, or at it.
    pub off: i64,
    /// MIDI channel, 0..=15.
    pub channel: u8,
    /// What was played, to what, and what was foreseen.
    pub played: Played,
}

/// How time is cut.
#[derive(Clone, Copy, Debug)]
pub struct Cut {
    /// Frames a second.
    pub rate: f64,
    /// Frames in a block, at least 1.
    pub block: u32,
}

/// Runs `engine` from the first event (or `from`, if that is earlier) to frame
/// `end`, over events `(frame, message)` in the order of their frames. Blocks
/// are cut at changes of tempo and metre, as hosts do. Every note of the
/// answer has its end; what still sounds at `end` ends there.
pub fn rehearse(
    engine: &mut Engine,
    timeline: &Timeline,
    events: &[(i64, Message)],
    (from, end): (i64, i64),
    cut: Cut,
) -> Vec<LeftNote> {
    let mut page = Page::default();
    let mut timed: Vec<Timed> = Vec::new();
    let mut start = events.first().map_or(from, |(frame, _)| from.min(*frame));
    let mut rest = events;
    while start < end {
        let change = timeline.next_change(start, cut.rate).unwrap_or(i64::MAX);
        let stop = (start + i64::from(cut.block.max(1))).min(end).min(change);
        let here = rest.partition_point(|(frame, _)| *frame < stop);
        let (now, later) = rest.split_at(here);
        rest = later;
        timed.clear();
        timed.extend(now.iter().map(|(frame, message)| Timed {
            frame: u32::try_from(frame - start).unwrap_or(0),
            message: *message,
        }));
        let transport = timeline.transport_at(start, cut.rate);
        let frames = u32::try_from(stop - start).unwrap_or(cut.block);
        page.start = start;
        engine.process(&Block { frames, rate: cut.rate, transport, events: &timed }, &mut page);
        start = stop;
    }
    page.start = end;
    engine.silence(0, &mut page);
    page.notes
}

/// Writes down what the engine sends.
#[derive(Default)]
struct Page {
    /// The first frame of the present block.
    start: i64,
    notes: Vec<LeftNote>,
    /// Indices of the notes that are on.
    open: Vec<usize>,
    /// The channel of the last on, until its `played` comes.
    channel: u8,
}

impl Output for Page {
    fn send(&mut self, event: Timed) -> bool {
        let at = self.start + i64::from(event.frame);
        match event.message {
            Message::On { channel, .. } => self.channel = channel,
            Message::Off { key, .. } => {
                let notes = &mut self.notes;
                if let Some(n) = self.open.iter().position(|&n| notes[n].played.key == key) {
                    notes[self.open.remove(n)].off = at;
                }
            }
            Message::Control { .. } => {}
        }
        true
    }

    fn played(&mut self, note: &Played) {
        let on = self.start + i64::from(note.frame);
        self.open.push(self.notes.len());
        self.notes.push(LeftNote { on, off: on, channel: self.channel, played: *note });
    }
}
