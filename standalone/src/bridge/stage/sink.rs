//! What is to be sent in this block, and when.

use arrayvec::ArrayVec;
use sinistra_core::engine::{Message, Output, Played, Timed};
use sinistra_core::pitch::{KeyNumber, Semitones};

use super::report::Report;
use crate::bridge::midi::Short;

/// Who a message is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum To {
    /// The outputs of the left hand.
    Left,
    /// The outputs of the metronome.
    Click,
    /// The outputs of MIDI clock.
    Clock,
}

/// A message and its frame in the block.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DueMessage {
    /// Samples from the start of the block.
    pub frame: u32,
    /// Who it is for.
    pub to: To,
    /// What to send.
    pub message: Short,
}

/// The most messages in a block.
const MOST: usize = 512;
/// Room that note-ons leave for note-offs.
const FOR_OFFS: usize = 128;
/// News that waits for the free world.
pub const NEWS: usize = 256;
/// A1 of the piano, the lowest key that an octave drop reaches.
const LOWEST: i32 = 21;

/// Collects a block. Real-time safe.
#[derive(Debug, Default)]
pub struct Sink {
    /// Sorted by frame once the block is done.
    pub due: ArrayVec<DueMessage, MOST>,
    /// News of this block.
    pub news: ArrayVec<Report, NEWS>,
    /// First frame of the present span in the block.
    pub offset: u32,
    /// An octave lower from the next note on.
    pub drop_octave: bool,
    /// Keys that were struck an octave lower, by channel.
    lowered: [u128; 16],
}

impl Sink {
    /// An empty one that drops octaves as this one does.
    #[must_use]
    pub fn afresh(&self) -> Self {
        Self { drop_octave: self.drop_octave, ..Self::default() }
    }

    /// Adds a message that is no note of the left hand.
    pub fn add(&mut self, frame: u32, to: To, message: Short) {
        let frame = frame + self.offset;
        let _ = self.due.try_push(DueMessage { frame, to, message }); // a click may be lost
    }

    /// Tells the free world, if it listens.
    pub fn tell(&mut self, report: Report) {
        let _ = self.news.try_push(report);
    }

    /// Sorts the block: by frame, ends before beginnings never swapped. Each goes
    /// to its place among those before it, where most are already: the standard
    /// library's stable sort would take memory for a long block.
    pub fn finish(&mut self) {
        for last in 1..self.due.len() {
            let Some((due, before)) = self.due.get(..=last).and_then(<[_]>::split_last) else {
                return;
            };
            let place = before.partition_point(|other| other.frame <= due.frame);
            if let Some(later) = self.due.get_mut(place..=last) {
                later.rotate_right(1);
            }
        }
    }

    /// The key that a note is sent on. One that was struck lower, and is
    /// struck again before its end, is ended first.
    fn lowered(&mut self, frame: u32, channel: u8, key: KeyNumber, begins: bool) -> KeyNumber {
        let bit = 1u128 << key.number();
        let Some(lowered) = self.lowered.get_mut(usize::from(channel)) else { return key };
        let lower = key.transpose(Semitones(-12)).unwrap_or(key);
        let was = *lowered & bit != 0;
        let fits = i32::from(lower.number()) >= LOWEST;
        let is = if begins { self.drop_octave && fits } else { was };
        *lowered = if begins && is { *lowered | bit } else { *lowered & !bit };
        if begins && was {
            let message = Short::off(channel, lower, 64);
            let _ = self.due.try_push(DueMessage { frame, to: To::Left, message });
        }
        if is { lower } else { key }
    }
}

impl Output for Sink {
    fn send(&mut self, event: Timed) -> bool {
        let frame = event.frame + self.offset;
        match event.message {
            Message::On { channel, key, velocity } => {
                if self.due.len() + FOR_OFFS >= MOST {
                    return false;
                }
                let key = self.lowered(frame, channel, key, true);
                let message = Short::on(channel, key, velocity);
                self.due.try_push(DueMessage { frame, to: To::Left, message }).is_ok()
            }
            Message::Off { channel, key, velocity } => {
                if self.due.is_full() {
                    return false;
                }
                let key = self.lowered(frame, channel, key, false);
                let message = Short::off(channel, key, velocity);
                self.due.try_push(DueMessage { frame, to: To::Left, message }).is_ok()
            }
            Message::Control { channel, controller, value } => {
                let message = Short::channel_message(
                    crate::bridge::midi::CONTROL,
                    channel,
                    controller,
                    value,
                );
                self.due.try_push(DueMessage { frame, to: To::Left, message }).is_ok()
            }
        }
    }

    fn played(&mut self, note: &Played) {
        let frame = note.frame + self.offset;
        self.tell(Report::Played(Played { frame, ..*note }));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn key(number: i32) -> KeyNumber {
        KeyNumber::clamped(number)
    }

    fn on(number: i32) -> Timed {
        Timed { frame: 0, message: Message::On { channel: 0, key: key(number), velocity: 9 } }
    }

    fn off(number: i32) -> Timed {
        Timed { frame: 0, message: Message::Off { channel: 0, key: key(number), velocity: 9 } }
    }

    #[test]
    fn a_note_ends_on_the_key_that_it_began_on_whatever_the_drop_does_meanwhile() {
        let mut sink = Sink { drop_octave: true, ..Sink::default() };
        sink.send(on(48));
        sink.drop_octave = false;
        sink.send(on(50));
        sink.drop_octave = true;
        sink.send(off(48));
        sink.send(off(50));
        let sent: Vec<_> = sink.due.iter().map(|d| (d.message.status(), d.message.one())).collect();
        assert_eq!(sent, [(0x90, 36), (0x90, 50), (0x80, 36), (0x80, 50)]);
    }

    #[test]
    fn a_long_block_is_sorted_without_memory_and_what_falls_together_keeps_its_order() {
        let mut sink = Sink::default();
        for i in 0..200u8 {
            let frame = u32::from(i) * 37 % 8;
            sink.add(frame, To::Left, Short::on(i / 100, key(i32::from(i % 100)), 9));
        }
        let mut expected: Vec<DueMessage> = sink.due.to_vec();
        expected.sort_by_key(|due| due.frame);
        assert_no_alloc::assert_no_alloc(|| sink.finish());
        assert_eq!(sink.due.to_vec(), expected);
    }

    #[test]
    fn one_key_on_two_channels_ends_on_both() {
        let mut sink = Sink::default();
        let of = |channel, message: fn(u8, KeyNumber) -> Message| Timed {
            frame: 0,
            message: message(channel, key(40)),
        };
        for channel in [0, 1] {
            sink.send(of(channel, |channel, key| Message::On { channel, key, velocity: 9 }));
        }
        for channel in [0, 1] {
            sink.send(of(channel, |channel, key| Message::Off { channel, key, velocity: 9 }));
        }
        let sent: Vec<_> = sink.due.iter().map(|d| d.message.status()).collect();
        assert_eq!(sent, [0x90, 0x91, 0x80, 0x81]);
    }

    #[test]
    fn a_lowered_key_struck_again_is_ended_first() {
        let mut sink = Sink { drop_octave: true, ..Sink::default() };
        sink.send(on(48));
        sink.drop_octave = false;
        sink.send(on(48));
        sink.send(off(48));
        let sent: Vec<_> = sink.due.iter().map(|d| (d.message.status(), d.message.one())).collect();
        assert_eq!(sent, [(0x90, 36), (0x80, 36), (0x90, 48), (0x80, 48)]);
    }

    #[test]
    fn a_full_block_refuses_beginnings_and_still_takes_ends() {
        let mut sink = Sink::default();
        let mut taken = 0;
        while sink.send(on(30 + taken % 20)) {
            taken += 1;
        }
        assert_eq!(taken as usize, MOST - FOR_OFFS);
        assert!(sink.send(off(30)));
    }
}
