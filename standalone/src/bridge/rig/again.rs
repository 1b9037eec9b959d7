//! Ends said again. On JACK's graph a client that is late misses a period, and
//! with it what was sent to it then: a note whose end was in it sounds on. So
//! ends of the last moments are sent a second time after the server has
//! reported such a period, and once more before we leave.

use crate::bridge::midi::{CONTROL, ChannelKind, Down, SOFT, SOSTENUTO, SUSTAIN, Short};

/// Seconds of ends that are remembered, at least; at most twice as many.
const LATELY_S: f64 = 0.5;
/// Seconds between the last end and its being said again, and again.
const PAUSE_S: f64 = 0.03;
/// How often it is said again before we leave.
const TIMES: u8 = 2;

/// What was ended lately, and how far the farewell is. Fixed size; real-time
/// safe.
#[derive(Debug)]
pub struct Again {
    /// Ended in this stretch of [`LATELY_S`], and in the one before; a key or
    /// pedal that was ended is "down" here.
    ends: [Down; 2],
    /// The frame with which this stretch is over.
    turns: u64,
    /// Frames a second.
    rate: f64,
    /// Channels that anything was begun on, a bit each.
    used: u16,
    farewell: Farewell,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Farewell {
    No,
    /// Everything is off; said again at this frame, and so often.
    At(u64, u8),
    /// Said for the last time.
    Said,
}

impl Again {
    /// At `rate` frames a second; nothing was ended yet.
    pub fn new(rate: u32) -> Self {
        let rate = f64::from(rate);
        Self { ends: Default::default(), turns: 0, rate, used: 0, farewell: Farewell::No }
    }

    /// A message was delivered in the period that starts at `frame`.
    pub fn note(&mut self, message: Short, frame: u64) {
        if frame >= self.turns {
            let is_old = frame >= self.turns + self.frames(LATELY_S);
            let last = std::mem::take(&mut self.ends[0]);
            self.ends[1] = if is_old { Down::default() } else { last };
            self.turns = frame + self.frames(LATELY_S);
        }
        let Some((channel, kind)) = message.channel() else { return };
        // The other way round: what was lifted is down here.
        let (begins, turned) = match kind {
            ChannelKind::On(key, _) => (true, Short::off(channel, key, 64)),
            ChannelKind::Off(key, _) => (false, Short::on(channel, key, 64)),
            ChannelKind::Control(pedal @ (SUSTAIN | SOSTENUTO | SOFT), value) => {
                (value >= 64, Short::channel_message(CONTROL, channel, pedal, 127 - value))
            }
            _ => return,
        };
        self.ends[0].note(turned);
        if begins {
            self.ends[1].note(turned);
            self.used |= 1 << channel;
        }
    }

    /// Sends the ends of the last moments once more.
    pub fn say(&self, mut send: impl FnMut(Short)) {
        let [now, before] = self.ends.clone();
        for mut ends in [before.without(&now), now] {
            ends.release(|end| {
                send(end);
                true
            });
        }
    }

    /// Goes on with the farewell, in the period that starts at `frame`, once
    /// nothing is on. True when it is over and the last of it is on its way.
    pub fn farewell(&mut self, frame: u64, mut send: impl FnMut(Short)) -> bool {
        let next = frame + self.frames(PAUSE_S);
        self.farewell = match self.farewell {
            Farewell::No => Farewell::At(next, TIMES),
            Farewell::At(at, times) if frame >= at => {
                self.say(&mut send);
                let used = (0..16).filter(|channel| self.used >> channel & 1 == 1);
                used.for_each(|c| send(Short::all_notes_off(c)));
                if times > 1 { Farewell::At(next, times - 1) } else { Farewell::Said }
            }
            as_it_is => as_it_is,
        };
        self.farewell == Farewell::Said
    }

    fn frames(&self, seconds: f64) -> u64 {
        (seconds * self.rate) as u64
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

    fn said(again: &Again) -> Vec<Vec<u8>> {
        let mut said = Vec::new();
        again.say(|end| said.push(end.bytes().to_vec()));
        said.sort();
        said
    }

    #[test]
    fn the_ends_of_the_last_moments_are_said_again() {
        let again = noted(&[
            (0, &[0x90, 60, 1]),
            (0, &[0x91, 40, 1]),
            (0, &[0xB1, 64, 127]),
            (400, &[0x80, 60, 64]),
            (600, &[0xB1, 64, 0]),
            (700, &[0x91, 40, 0]),
        ]);
        assert_eq!(said(&again), [[0x80, 60, 64], [0x81, 40, 64], [0xB1, 64, 0]]);
    }

    #[test]
    fn what_was_begun_anew_is_not_ended() {
        for ends_at in [100, 450] {
            let again = noted(&[(ends_at, &[0x80, 60, 64]), (600, &[0x90, 60, 1])]);
            assert!(said(&again).is_empty());
        }
        let again = noted(&[(100, &[0xB0, 64, 0]), (600, &[0xB0, 64, 127])]);
        assert!(said(&again).is_empty());
    }

    #[test]
    fn what_was_long_ago_is_not_said_again() {
        assert!(said(&noted(&[(0, &[0x80, 60, 64]), (2000, &[0x80, 62, 64])])).len() == 1);
        let three = noted(&[(0, &[0x80, 60, 0]), (600, &[0x80, 61, 0]), (1200, &[0x80, 62, 0])]);
        assert_eq!(said(&three), [[0x80, 61, 64], [0x80, 62, 64]]);
    }

    #[test]
    fn the_farewell_comes_twice_and_only_on_channels_that_were_used() {
        // MIDI 1.0 detailed specification, "Channel mode messages": 123 ends
        // all notes of its channel.
        let mut again = noted(&[(0, &[0x92, 60, 1]), (100, &[0x82, 60, 64])]);
        let mut said = Vec::new();
        let over: Vec<bool> = (0..8)
            .map(|n| again.farewell(100 + 10 * n, |end| said.push(end.bytes().to_vec())))
            .collect();
        assert_eq!(over, [false, false, false, false, false, false, true, true]);
        let once = [[0x82, 60, 64], [0xB2, 123, 0]];
        assert_eq!(said, [once, once].concat());
    }
}
