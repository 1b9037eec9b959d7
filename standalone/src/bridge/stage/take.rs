//! Both hands on the log of what was just played, from which takes are kept.

use std::sync::Arc;

use arrayvec::ArrayVec;
use sinistra_core::engine::Transport;
use sinistra_panel::take::{LoggedStroke, Owner, TakeLog, Tape};

use super::block::MOST_HEARD;
use super::report::Report;
use super::sink::{DueMessage, To};
use crate::bridge::midi::{
    CONTROL, ChannelKind, KeyState, NOTE_ON, RESET, RESET_CONTROLLERS, Short,
};

/// Writes to the log while beats go by. Real-time safe.
pub struct TakeWriter {
    log: Arc<TakeLog>,
    tape: Tape,
    /// What the player sent in this block, and its frame.
    heard: ArrayVec<(u32, Short), MOST_HEARD>,
    /// How hard each key that is down was struck, and how far each controller
    /// is, by channel; 0 is up.
    keys: Box<[[u8; 128]; 16]>,
    controls: Box<[[u8; 128]; 16]>,
    /// What is on in the log.
    right: KeyState,
    left: KeyState,
    runs: bool,
}

/// A part of a block: its first frame, its length, and the block's length, in
/// frames; then frames a second.
pub type TakeSpan = (u32, u32, u32, f64);

impl TakeWriter {
    /// Goes on where the log ends.
    pub fn new(log: Arc<TakeLog>) -> Self {
        Self {
            tape: Tape::after(&log),
            log,
            heard: ArrayVec::new(),
            keys: Box::new([[0; 128]; 16]),
            controls: Box::new([[0; 128]; 16]),
            right: KeyState::default(),
            left: KeyState::default(),
            runs: false,
        }
    }

    /// A message of the player's at a frame of this block.
    pub fn hear(&mut self, frame: u32, message: Short) {
        if message.channel().is_some() || message.status() == RESET {
            let _ = self.heard.try_push((frame, message));
        }
    }

    /// Writes a part of the block, with what the left hand was given to play, and what
    /// is told of that.
    pub fn write(
        &mut self,
        transport: &Transport,
        part: TakeSpan,
        ours: &[DueMessage],
        told: &[Report],
    ) {
        let (from, length, frames, rate) = part;
        if self.runs && !transport.playing {
            self.end();
        }
        self.tape.run(transport, length, rate, &self.log);
        if transport.playing && !std::mem::replace(&mut self.runs, transport.playing) {
            self.begin(f64::from(length) / rate);
        }
        let is_here =
            |frame: u32| frame >= from && (frame < from + length || from + length >= frames);
        let before_end = |frame: u32| f64::from((from + length).saturating_sub(frame)) / rate;
        for at in 0..self.heard.len() {
            if let Some((frame, message)) = self.heard.get(at).copied().filter(|h| is_here(h.0)) {
                self.remember(message);
                if ends_all(message) {
                    self.lift(before_end(frame), Owner::Right);
                } else {
                    self.note(before_end(frame), Owner::Right, message);
                }
            }
        }
        for due in ours.iter().filter(|due| due.to == To::Left) {
            self.note(before_end(due.frame), Owner::Left, due.message);
        }
        for report in told.iter().filter(|_| self.runs) {
            if let Report::Played(note) = report {
                let seconds = before_end(note.frame);
                self.tape.stroke(seconds, LoggedStroke::of(note), &self.log);
            }
        }
        if from + length >= frames {
            self.heard.clear();
        }
    }

    /// What is held when the beat starts was struck on it: the first chord
    /// sets the beat going, and its keys come before it.
    fn begin(&mut self, seconds: f64) {
        for channel in 0..16u8 {
            for number in 0..128u8 {
                let of = |table: &[[u8; 128]; 16]| {
                    table
                        .get(usize::from(channel))
                        .and_then(|t| t.get(usize::from(number)))
                        .copied()
                };
                if let Some(velocity @ 1..) = of(&self.keys) {
                    let on = Short::channel_message(NOTE_ON, channel, number, velocity);
                    self.note(seconds, Owner::Right, on);
                }
                if let (Some(value @ 1..), 64 | 66 | 67) = (of(&self.controls), number) {
                    let pedal = Short::channel_message(CONTROL, channel, number, value);
                    self.note(seconds, Owner::Right, pedal);
                }
            }
        }
    }

    /// What is on when the beat rests ends there.
    fn end(&mut self) {
        self.runs = false;
        self.lift(0.0, Owner::Right);
        self.lift(0.0, Owner::Left);
    }

    /// Ends what a hand has on.
    fn lift(&mut self, seconds: f64, hand: Owner) {
        let Self { log, tape, right, left, .. } = self;
        let down = if hand == Owner::Right { right } else { left };
        down.end_all(|off| {
            tape.note(seconds, hand, three(off), log);
            true
        });
    }

    fn note(&mut self, seconds: f64, hand: Owner, message: Short) {
        if !self.runs {
            return;
        }
        match hand {
            Owner::Right => self.right.note(message),
            Owner::Left => self.left.note(message),
        }
        self.tape.note(seconds, hand, three(message), &self.log);
    }

    fn remember(&mut self, message: Short) {
        let Some((channel, kind)) = message.channel() else {
            // System reset: nothing is down any more.
            self.keys.iter_mut().chain(self.controls.iter_mut()).for_each(|row| row.fill(0));
            return;
        };
        let (table, number, value) = match kind {
            ChannelKind::On(key, velocity) => (&mut self.keys, key.number(), velocity),
            ChannelKind::Off(key, _) => (&mut self.keys, key.number(), 0),
            ChannelKind::Control(control, value) => (&mut self.controls, control, value),
            ChannelKind::Mode(RESET_CONTROLLERS, _) => {
                self.controls.iter_mut().skip(channel.into()).take(1).for_each(|row| row.fill(0));
                return;
            }
            ChannelKind::Mode(..) if ends_all(message) => {
                self.keys.iter_mut().skip(channel.into()).take(1).for_each(|row| row.fill(0));
                return;
            }
            _ => return,
        };
        if let Some(place) =
            table.get_mut(usize::from(channel)).and_then(|row| row.get_mut(usize::from(number)))
        {
            *place = value;
        }
    }
}

/// Whether notes end by it: system reset, and all channel mode messages but
/// "reset all controllers" and "local control" (MIDI 1.0).
fn ends_all(message: Short) -> bool {
    match message.channel() {
        Some((_, ChannelKind::Mode(mode, _))) => !matches!(mode, RESET_CONTROLLERS | 122),
        Some(_) => false,
        None => true,
    }
}

/// As the log has it: the third byte is 0 where there are two.
fn three(message: Short) -> [u8; 3] {
    let bytes = message.bytes();
    [0, 1, 2].map(|n| bytes.get(n).copied().unwrap_or(0))
}
