//! Ends said again. On JACK's graph a client that is late misses a period, and
//! with it what was sent to it then: a note whose end was in it sounds on. So
//! ends that were due in a missed period are sent once more after the server
//! has reported it, and the farewell is said twice.

use sinistra_core::maths;
use std::collections::VecDeque;

use crate::bridge::midi::{ChannelKind, MIDDLE, SOFT, SOSTENUTO, SUSTAIN, Short};

/// How long after a period the server may report that it was missed: so many
/// periods, but at least so many seconds (the report takes its own way).
const PERIODS: u64 = 4;
/// See [`PERIODS`].
const REPORTED_S: f64 = 0.02;
/// Ends that are remembered.
const MOST: usize = 512;
/// Seconds between the last end and the farewell, and its being said again.
const PAUSE_S: f64 = 0.03;
/// How often it is said.
const TIMES: u8 = 2;

/// What was ended lately, and how far the farewell is. Fixed size; real-time
/// safe.
#[derive(Debug)]
pub struct Again {
    /// Each end with the first frame of its period, in order.
    ends: VecDeque<(u64, Short)>,
    /// Frames a second.
    rate: f64,
    farewell: Parting,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Parting {
    No,
    /// Everything is off; said at this frame, and so often.
    At(u64, u8),
    /// Said for the last time.
    Said,
}

impl Again {
    /// At `rate` frames a second; nothing was ended yet.
    pub fn new(rate: u32) -> Self {
        let ends = VecDeque::with_capacity(MOST);
        Self { ends, rate: f64::from(rate), farewell: Parting::No }
    }

    /// A message was delivered in the period that starts at `frame`.
    pub fn note(&mut self, message: Short, frame: u64) {
        if !is_end(message) {
            return;
        }
        if self.ends.len() == MOST {
            self.ends.pop_front();
        }
        self.ends.push_back((frame, message));
    }

    /// A period of `length` frames was missed, and it is reported in the one
    /// that starts at `frame`: sends the ends that were due in it once more,
    /// but none of what was begun `anew`. An end is not said a third time.
    pub fn say(
        &mut self,
        (frame, length): (u64, u32),
        anew: impl Fn(Short) -> bool,
        mut send: impl FnMut(Short),
    ) {
        let before = (u64::from(length) * PERIODS).max(self.frames(REPORTED_S));
        while let Some((at, end)) = self.ends.pop_front() {
            if at + before >= frame && !anew(end) {
                send(end);
            }
        }
    }

    /// Goes on with the farewell, in the period that starts at `frame`, once
    /// nothing is on: `say` says it. True when it is over and the last of it
    /// is on its way.
    pub fn farewell(&mut self, frame: u64, say: impl FnOnce()) -> bool {
        let next = frame + self.frames(PAUSE_S);
        self.farewell = match self.farewell {
            Parting::No => Parting::At(next, TIMES),
            Parting::At(at, times) if frame >= at => {
                say();
                if times > 1 { Parting::At(next, times - 1) } else { Parting::Said }
            }
            as_it_is => as_it_is,
        };
        self.farewell == Parting::Said
    }

    fn frames(&self, seconds: f64) -> u64 {
        maths::frames(seconds * self.rate).into()
    }
}

/// Whether it ends a note, a pedal or a bend.
fn is_end(message: Short) -> bool {
    match message.channel() {
        Some((_, ChannelKind::Off(..))) => true,
        Some((_, ChannelKind::Control(SUSTAIN | SOSTENUTO | SOFT, value))) => value < 64,
        Some((_, ChannelKind::Bend(to))) => to == MIDDLE,
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn noted(messages: &[(u64, &[u8])]) -> Again {
        let mut again = Again::new(1000);
        for (frame, bytes) in messages {
            again.note(Short::new(bytes).expect("a message"), *frame);
        }
        again
    }

    fn said(again: &mut Again, frame: u64) -> Vec<Vec<u8>> {
        let mut said = Vec::new();
        again.say((frame, 10), |_| false, |end| said.push(end.bytes().to_vec()));
        said
    }

    #[test]
    fn only_what_was_due_in_a_missed_period_is_said_again_and_only_once() {
        let mut again = noted(&[
            (0, &[0x90, 60, 1]),
            (800, &[0x80, 59, 64]),
            (900, &[0x80, 60, 64]),
            (960, &[0xB1, 64, 0]),
            (970, &[0x91, 40, 0]),
            (970, &[0xE1, 0, 64]),
            (980, &[0xB1, 64, 127]),
        ]);
        let ends = [&[0xB1, 64, 0][..], &[0x91, 40, 0], &[0xE1, 0, 64]];
        assert_eq!(said(&mut again, 1000), ends);
        assert!(said(&mut again, 1010).is_empty(), "missed once more: not said a third time");
    }

    #[test]
    fn what_was_begun_anew_is_not_ended() {
        let mut again = noted(&[(100, &[0x80, 60, 64])]);
        again.say((100, 10), |end| end.bytes()[1] == 60, |end| unreachable!("{end:?}"));
    }

    #[test]
    fn the_farewell_comes_twice() {
        let (mut again, mut said) = (noted(&[]), 0);
        let over: Vec<bool> = (0..8).map(|n| again.farewell(100 + 10 * n, || said += 1)).collect();
        assert_eq!(over, [false, false, false, false, false, false, true, true]);
        assert_eq!(said, 2);
    }
}
