//! The engine run over a recorded right hand, block by block, as if live.

use crate::Timeline;
use sinistra_core::chord::Chord;
use sinistra_core::engine::{Block, Engine, Message, Output, Played, Timed};
use sinistra_core::foresee::Forecast;
use sinistra_core::time::Ticks;

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

/// A chord that was heard, as judged when all of it had sounded.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HeardChord {
    /// When it was struck.
    pub at: Ticks,
    /// The chord.
    pub chord: Chord,
}

/// All that came of a rehearsal, in time order.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Rehearsed {
    /// What the left hand played.
    pub notes: Vec<LeftNote>,
    /// The chords that were heard.
    pub chords: Vec<HeardChord>,
    /// What its pedal did: frames from the start of the song, and the message.
    pub pedal: Vec<(i64, Message)>,
}

/// The notes of [`rehearse_and_listen`] alone.
pub fn rehearse(
    engine: &mut Engine,
    timeline: &Timeline,
    events: &[(i64, Message)],
    span: (i64, i64),
    cut: Cut,
) -> Vec<LeftNote> {
    rehearse_and_listen(engine, timeline, events, span, cut).notes
}

/// Runs `engine` from the first event (or `from`, if that is earlier) to frame
/// `end`, over events `(frame, message)` in the order of their frames. Blocks
/// are cut at changes of tempo and metre, as hosts do. If the engine looks
/// ahead it hears the same events its span earlier. Every note of the answer
/// has its end; what still sounds at `end` ends there.
pub fn rehearse_and_listen(
    engine: &mut Engine,
    timeline: &Timeline,
    events: &[(i64, Message)],
    (from, end): (i64, i64),
    cut: Cut,
) -> Rehearsed {
    engine.watch(false); // nobody looks at a snapshot meanwhile
    let start = events.first().map_or(from, |(frame, _)| from.min(*frame));
    let mut page = Transcript::default();
    let mut live = BlockFeed { timeline, cut, start, rest: events, timed: Vec::new() };
    let mut ahead = BlockFeed { timeline, cut, start, rest: events, timed: Vec::new() };
    while live.start < end {
        page.start = live.start;
        let stop = live.stop(end);
        if let Some(span) = engine.ahead() {
            let until = timeline.frame(timeline.tick_at_frame(stop, cut.rate) + span, cut.rate) + 1;
            while ahead.start < until {
                ahead.block(until, |block| engine.hear_ahead(block));
            }
        }
        live.block(end, |block| engine.process(block, &mut page));
    }
    page.start = end;
    engine.silence(0, &mut page);
    page.told
}

/// Hands out the events block by block.
struct BlockFeed<'a> {
    timeline: &'a Timeline,
    cut: Cut,
    /// The first frame of the next block.
    start: i64,
    rest: &'a [(i64, Message)],
    timed: Vec<Timed>,
}

impl BlockFeed<'_> {
    /// Where the next block ends.
    fn stop(&self, end: i64) -> i64 {
        let change = self.timeline.next_change(self.start, self.cut.rate).unwrap_or(i64::MAX);
        (self.start + i64::from(self.cut.block.max(1))).min(end).min(change)
    }

    /// The next block, which ends at `end` at the latest.
    fn block(&mut self, end: i64, mut take: impl FnMut(&Block<'_>)) {
        let (start, rate, stop) = (self.start, self.cut.rate, self.stop(end));
        let (now, later) = self.rest.split_at(self.rest.partition_point(|(at, _)| *at < stop));
        self.rest = later;
        self.timed.clear();
        self.timed.extend(now.iter().map(|(at, message)| Timed {
            frame: u32::try_from(at - start).unwrap_or(0),
            message: *message,
        }));
        let transport = self.timeline.transport_at(start, rate);
        let frames = u32::try_from(stop - start).unwrap_or(self.cut.block);
        take(&Block { frames, rate, transport, events: &self.timed });
        self.start = stop;
    }
}

/// Writes down what the engine sends.
#[derive(Default)]
struct Transcript {
    /// The first frame of the present block.
    start: i64,
    told: Rehearsed,
    /// Indices of the notes that are on.
    open: Vec<usize>,
    /// The channel of the last on, until its `played` comes.
    channel: u8,
}

impl Output for Transcript {
    fn send(&mut self, event: Timed) -> bool {
        let at = self.start + i64::from(event.frame);
        match event.message {
            Message::On { channel, .. } => self.channel = channel,
            Message::Off { key, .. } => {
                let notes = &mut self.told.notes;
                if let Some(n) = self.open.iter().position(|&n| notes[n].played.key == key) {
                    notes[self.open.remove(n)].off = at;
                }
            }
            Message::Control { .. } => self.told.pedal.push((at, event.message)),
        }
        true
    }

    fn foreseen(&mut self, since: Ticks, next: &Forecast) {
        for note in self.told.notes.iter_mut().rev().take_while(|note| note.played.at >= since) {
            note.played.next = note.played.next.or(Some(*next));
        }
    }

    fn heard(&mut self, since: Ticks, chord: Chord) {
        let chords = &mut self.told.chords;
        while chords.last().is_some_and(|last| last.at >= since) {
            chords.pop();
        }
        chords.push(HeardChord { at: since, chord });
    }

    fn reads_other(&self) -> bool {
        true
    }

    fn played(&mut self, note: &Played) {
        let on = self.start + i64::from(note.frame);
        let notes = &mut self.told.notes;
        self.open.push(notes.len());
        notes.push(LeftNote { on, off: on, channel: self.channel, played: *note });
    }
}
