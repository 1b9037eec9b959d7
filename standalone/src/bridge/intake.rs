//! One way in: cuts what a port gives into messages and hands them to the one
//! thread that carries them on.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Instant;

use rtrb::chunks::ChunkError;
use rtrb::{Consumer, Producer, RingBuffer};

use super::bell::Bell;
use super::midi::{CLOCK, LONGEST, SONG_POSITION, STOP, Stream};
use super::urgent::{Urgency, urgent};

/// Bytes of one keyboard that may wait: the longest message, and 40,000 short
/// ones beside it.
const ROOM: usize = 2 * LONGEST;
/// Before each message: when it came, and its length.
const HEAD: usize = 8 + 4;

/// The port's side. It lives in the port's own thread.
pub struct Intake {
    queue: Producer<u8>,
    stream: Stream,
    /// The bridge's second 0.
    epoch: Instant,
    bell: Arc<Bell>,
    /// Set when there was no room: an end may be among what was lost.
    lost_some: Arc<AtomicBool>,
    /// Whether the thread that calls was made urgent.
    urgent: bool,
}

/// The side of the thread that carries messages on.
pub struct Inbox {
    queue: Consumer<u8>,
    lost_some: Arc<AtomicBool>,
    /// A message that lies around the end of the ring.
    whole: Vec<u8>,
}

/// Both sides of a new input; seconds are counted from `epoch`.
pub fn intake(epoch: Instant, bell: Arc<Bell>) -> (Intake, Inbox) {
    let (producer, queue) = RingBuffer::new(ROOM);
    let lost_some = Arc::<AtomicBool>::default();
    let intake = Intake {
        queue: producer,
        stream: Stream::default(),
        epoch,
        bell,
        lost_some: Arc::clone(&lost_some),
        urgent: false,
    };
    (intake, Inbox { queue, lost_some, whole: Vec::with_capacity(LONGEST) })
}

impl Intake {
    /// Takes bytes as the port gave them.
    pub fn receive(&mut self, bytes: &[u8]) {
        if !std::mem::replace(&mut self.urgent, true) {
            urgent(Urgency::Through);
        }
        self.receive_at(Instant::now(), bytes);
    }

    /// The same for a thread that is urgent already, and knows when they came.
    pub fn receive_at(&mut self, now: Instant, bytes: &[u8]) {
        let at = now.saturating_duration_since(self.epoch).as_secs_f64();
        let Self { stream, queue, lost_some, .. } = self;
        stream.read(bytes, |message| {
            if put(queue, at, message).is_err() {
                lost_some.store(true, Ordering::Release);
            }
        });
        self.bell.ring();
    }
}

/// Puts a message into the ring, whole or not at all.
fn put(queue: &mut Producer<u8>, at: f64, message: &[u8]) -> Result<(), ChunkError> {
    let chunk = queue.write_chunk_uninit(HEAD + message.len())?;
    let length = u32::try_from(message.len()).unwrap_or(u32::MAX).to_le_bytes();
    chunk.fill_from_iter(at.to_le_bytes().into_iter().chain(length).chain(message.iter().copied()));
    Ok(())
}

impl Inbox {
    /// Gives the next message and when it came to `take`; `false` if there is
    /// none.
    pub fn next(&mut self, take: impl FnOnce(f64, &[u8])) -> bool {
        let Ok(head) = self.queue.read_chunk(HEAD) else { return false };
        let mut bytes = [0; HEAD];
        let (one, two) = head.as_slices();
        bytes.iter_mut().zip(one.iter().chain(two)).for_each(|(to, from)| *to = *from);
        head.commit_all();
        let [a, b, c, d, e, f, g, h, length @ ..] = bytes;
        let at = f64::from_le_bytes([a, b, c, d, e, f, g, h]);
        let Ok(body) = self.queue.read_chunk(u32::from_le_bytes(length) as usize) else {
            return false;
        };
        match body.as_slices() {
            (message, []) => take(at, message),
            (one, two) => {
                self.whole.clear();
                self.whole.extend_from_slice(one);
                self.whole.extend_from_slice(two);
                take(at, &self.whole);
            }
        }
        body.commit_all();
        true
    }

    /// Whether something was lost on the way since the last question.
    pub fn lost_some(&self) -> bool {
        self.lost_some.swap(false, Ordering::AcqRel)
    }

    /// Whether the port is closed; what it gave was taken.
    pub fn is_over(&self) -> bool {
        self.queue.is_abandoned() && self.queue.is_empty()
    }
}

/// Whether `message` belongs to MIDI clock: what a clock of our own replaces.
pub fn is_clock(message: &[u8]) -> bool {
    matches!(message.first(), Some(&(SONG_POSITION | CLOCK..=STOP)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn taken(inbox: &mut Inbox) -> Vec<Vec<u8>> {
        let mut taken = Vec::new();
        while inbox.next(|_, message| taken.push(message.to_vec())) {}
        taken
    }

    #[test]
    fn every_kind_of_message_arrives_byte_for_byte() {
        // One of each kind of MIDI 1.0, tables I to V.
        let messages: [&[u8]; 20] = [
            &[0x80, 60, 1],
            &[0x91, 60, 2],
            &[0xA2, 60, 3],
            &[0xB3, 1, 4],
            &[0xB4, 120, 0],
            &[0xB5, 123, 0],
            &[0xC6, 5],
            &[0xD7, 6],
            &[0xE8, 0x7F, 0x3F],
            &[0xF0, 0x7E, 0x7F, 0x06, 0x01, 0xF7],
            &[0xF1, 0x35],
            &[0xF2, 0x10, 0x02],
            &[0xF3, 9],
            &[0xF6],
            &[0xF8],
            &[0xFA],
            &[0xFB],
            &[0xFC],
            &[0xFE],
            &[0xFF],
        ];
        let (mut intake, mut inbox) = intake(Instant::now(), Arc::default());
        for message in messages {
            intake.receive(message);
        }
        assert_eq!(taken(&mut inbox), messages);
    }

    #[test]
    fn the_ring_is_used_round_and_round_and_says_when_it_was_full() {
        let (mut intake, mut inbox) = intake(Instant::now(), Arc::default());
        let long = [&[0xF0][..], &[1; 100_000], &[0xF7]].concat();
        for _ in 0..100 {
            intake.receive(&long);
            intake.receive(&[0x90, 60, 1]);
            assert_eq!(taken(&mut inbox), [long.as_slice(), &[0x90, 60, 1]]);
        }
        assert!(!inbox.lost_some());
        for _ in 0..30 {
            intake.receive(&long);
        }
        assert!(inbox.lost_some() && !inbox.lost_some());
        assert!(!inbox.is_over());
        drop(intake);
        assert!(!inbox.is_over(), "it still holds what came");
        taken(&mut inbox);
        assert!(inbox.is_over());
    }
}
