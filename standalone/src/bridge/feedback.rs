//! What we send must not come back as if it were played: a module that echoes
//! into the input of a keyboard makes a ring in which a message runs for ever.

use super::keyboards::INPUTS;
use super::midi::{ChannelKind, Short};

/// A message that comes back within this many seconds of being sent is an
/// echo: no finger strikes a key equally hard twice as fast.
const BACK_S: f64 = 0.05;
/// Echoes in [`WITHIN_S`] that make a ring: notes that were struck, and of all
/// messages (a pedal may say the same thing several times).
const NOTES: u32 = 8;
/// See [`NOTES`].
const ALL: u32 = 64;
/// See [`NOTES`].
const WITHIN_S: f64 = 0.5;
/// Seconds without an echo after which the ring is open.
const OPEN_S: f64 = 3.0;
/// Messages that are remembered, by their bytes.
const PLACES: usize = 512;

/// Watches the inputs. Fixed size; real-time safe.
#[derive(Debug)]
pub struct Feedback {
    /// What was sent last at each place, and when.
    sent: Box<[(Short, f64); PLACES]>,
    rings: [Ring; INPUTS],
}

/// The echoes of one input.
#[derive(Clone, Copy, Debug, Default)]
struct Ring {
    notes: u32,
    all: u32,
    /// Since when they are counted.
    since: f64,
    /// The last echo; a ring is closed until some time after it.
    closed: Option<f64>,
}

/// What became of a message.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Came {
    /// It was played, as far as we can tell.
    Played,
    /// It is the first echo of a ring: it goes no further, and is told.
    Ring,
    /// It is an echo: it goes no further.
    Echo,
}

impl Default for Feedback {
    fn default() -> Self {
        let sent = Box::new([(Short::default(), f64::MIN); PLACES]);
        Self { sent, rings: Default::default() }
    }
}

impl Feedback {
    /// We send `message` at `now` seconds.
    pub fn send(&mut self, now: f64, message: Short) {
        if let Some(place) = place(message).and_then(|at| self.sent.get_mut(at)) {
            *place = (message, now);
        }
    }

    /// `message` came from `input` at `now` seconds.
    pub fn hear(&mut self, input: usize, now: f64, message: Short) -> Came {
        let is_echo = place(message)
            .and_then(|at| self.sent.get(at))
            .is_some_and(|(sent, at)| *sent == message && now - at < BACK_S);
        let Some(ring) = self.rings.get_mut(input) else { return Came::Played };
        if !is_echo {
            ring.closed = ring.closed.filter(|last| now - last < OPEN_S);
            return Came::Played;
        }
        if ring.closed.is_some() {
            ring.closed = Some(now);
            return Came::Echo;
        }
        if now - ring.since > WITHIN_S {
            *ring = Ring { since: now, ..Ring::default() };
        }
        ring.all += 1;
        ring.notes += u32::from(matches!(message.channel(), Some((_, ChannelKind::On(..)))));
        if ring.notes >= NOTES || ring.all >= ALL {
            ring.closed = Some(now);
            return Came::Ring;
        }
        Came::Played
    }
}

/// Where a channel message is remembered; clocks and the like come again and
/// again by themselves.
fn place(message: Short) -> Option<usize> {
    message.channel()?;
    let sum = message.bytes().iter().fold(7u32, |sum, &byte| sum * 31 + u32::from(byte));
    Some(sum as usize % PLACES)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn short(bytes: [u8; 3]) -> Short {
        Short::new(&bytes).expect("a message")
    }

    #[test]
    fn a_message_that_runs_in_a_ring_is_stopped_and_told_of_once() {
        let mut feedback = Feedback::default();
        let (mut ring, mut told) = (vec![short([0x90, 60, 90]), short([0xB0, 1, 7])], 0);
        for n in 0..1000u16 {
            let now = f64::from(n) * 0.003;
            let mut sent = Vec::new();
            for message in ring {
                match feedback.hear(0, now, message) {
                    Came::Played => sent.push(message),
                    Came::Ring => told += 1,
                    Came::Echo => {}
                }
            }
            sent.iter().for_each(|message| feedback.send(now, *message));
            ring = sent; // what is sent comes back
            assert!(n < 10 || ring.len() <= 1, "{n} {ring:?}");
            if n % 50 == 0 {
                // Somebody plays on: it goes through, and its echo does not.
                ring = vec![short([0x90, 50 + (n / 50) as u8, 90])];
            }
        }
        assert_eq!(told, 1);
    }

    #[test]
    fn what_a_player_does_is_no_ring() {
        let mut feedback = Feedback::default();
        for n in 0..2000 {
            // A repeated key at fourteen strokes a second, equally hard; a pedal
            // that says the same a hundred times a second; clocks.
            let now = f64::from(n) * 0.01;
            let mut messages = vec![short([0xB0, 64, 127]), Short::real_time(0xF8)];
            if n % 7 == 0 {
                messages.extend([short([0x90, 60, 90]), short([0x80, 60, 0])]);
            }
            for message in messages {
                assert_eq!(feedback.hear(0, now, message), Came::Played, "{n} {message:?}");
                feedback.send(now, message);
            }
        }
    }
}
