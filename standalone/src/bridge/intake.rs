//! One way in: sends through first, then tells the stage.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Instant;

use parking_lot::Mutex;
use rtrb::Producer;

use super::meter::Meter;
use super::midi::{ACTIVE_SENSING, CLOCK, Down, SONG_POSITION, STOP, Short, Stream};
use super::outlet::{Outlet, Who};
use super::urgent::{Urgency, urgent};
use super::withheld::Withheld;

/// How many messages of one keyboard may wait for the stage.
pub const QUEUE: usize = 4096;

/// A keyboard that promised to send something every 300 ms is gone when it
/// does not (MIDI 1.0 detailed specification, "Active sensing"). A tenth more
/// is allowed for clocks that run slow: common practice.
pub const SENSING_MS: u64 = 330;

/// A message on its way to the stage.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Arrived {
    /// Seconds on the bridge's clock.
    pub at: f64,
    /// What was sent.
    pub message: Short,
}

/// What all inputs share.
#[derive(Clone)]
pub struct Shared {
    /// The bridge's second 0.
    pub epoch: Instant,
    /// Every output.
    pub outlets: Arc<[Mutex<Outlet>]>,
    /// What the outputs must not hear.
    pub withheld: Arc<Withheld>,
    /// How long through took.
    pub through: Arc<Meter>,
    /// Set when a message could not be told to the stage.
    pub overflow: Arc<AtomicBool>,
    /// The thread that runs the stage.
    pub stage: Arc<Mutex<Option<std::thread::Thread>>>,
}

impl Shared {
    /// Nothing withheld, nothing lost; second 0 is now.
    pub fn new(outlets: Arc<[Mutex<Outlet>]>) -> Self {
        Self {
            epoch: Instant::now(),
            outlets,
            withheld: Arc::default(),
            through: Arc::default(),
            overflow: Arc::default(),
            stage: Arc::default(),
        }
    }
}

/// One input, whether or not it is plugged in now.
pub struct Intake {
    shared: Shared,
    queue: Producer<Arrived>,
    stream: Stream,
    down: Down,
    /// Outputs that these keys already sound on by themselves, a bit each.
    pub echoes: u64,
    senses: bool,
    last: Instant,
    /// Whether the thread that calls was made urgent.
    urgent: bool,
}

impl Intake {
    /// An input whose messages go to `queue` once they are through.
    pub fn new(shared: Shared, queue: Producer<Arrived>) -> Self {
        let last = shared.epoch;
        Self {
            shared,
            queue,
            stream: Stream::default(),
            down: Down::default(),
            echoes: 0,
            senses: false,
            last,
            urgent: false,
        }
    }

    /// Takes bytes as the port gave them.
    pub fn receive(&mut self, bytes: &[u8]) {
        if !std::mem::replace(&mut self.urgent, true) {
            urgent(Urgency::Through);
        }
        self.receive_at(Instant::now(), bytes);
    }

    /// The same for a thread that is urgent already, and knows when they came.
    pub fn receive_at(&mut self, now: Instant, bytes: &[u8]) {
        self.last = now;
        let mut stream = std::mem::take(&mut self.stream);
        stream.read(bytes, |message| {
            self.through(message);
            if let Some(short) = Short::new(message) {
                self.down.note(short);
                self.senses |= short.status() == ACTIVE_SENSING;
                self.tell(now, short);
            }
        });
        self.stream = stream;
        self.shared.through.count(now.elapsed());
    }

    /// The port is gone: what was down on it comes up.
    pub fn lost(&mut self) {
        let now = Instant::now();
        let mut down = std::mem::take(&mut self.down);
        down.release(|off| {
            self.through(off.bytes());
            self.tell(now, off);
            true
        });
        self.stream.reset();
        (self.senses, self.urgent) = (false, false);
    }

    /// Whether it promised to be heard of and was not.
    pub fn fell_silent(&self) -> bool {
        self.senses && self.last.elapsed().as_millis() > SENSING_MS.into()
    }

    fn through(&self, message: &[u8]) {
        if self.shared.withheld.has(message) {
            return;
        }
        for (at, outlet) in self.shared.outlets.iter().enumerate() {
            if self.echoes >> at & 1 == 0 {
                outlet.lock().send(Who::Player, message);
            }
        }
    }

    fn tell(&mut self, now: Instant, message: Short) {
        // Nothing in the stage listens to these.
        if matches!(message.status(), ACTIVE_SENSING | 0xF9 | 0xFD | 0xF1 | 0xF3 | 0xF6) {
            return;
        }
        let at = now.saturating_duration_since(self.shared.epoch).as_secs_f64();
        if self.queue.push(Arrived { at, message }).is_err() {
            self.shared.overflow.store(true, Ordering::Release);
        }
        if let Some(stage) = self.shared.stage.lock().as_ref() {
            stage.unpark();
        }
    }
}

/// Whether `message` belongs to MIDI clock: what a clock of our own replaces.
pub fn is_clock(message: &[u8]) -> bool {
    matches!(message.first(), Some(&(SONG_POSITION | CLOCK..=STOP)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bridge::outlet::{Refused, Wire};
    use crate::bridge::withheld::Kind;

    type Sent = Arc<Mutex<Vec<Vec<u8>>>>;

    struct Tape(Sent);

    impl Wire for Tape {
        fn send(&mut self, message: &[u8]) -> Result<(), Refused> {
            self.0.lock().push(message.to_vec());
            Ok(())
        }
    }

    fn intake(queue: usize) -> (Intake, rtrb::Consumer<Arrived>, Sent) {
        let outlets: Arc<[Mutex<Outlet>]> = [Mutex::new(Outlet::default())].into();
        let tape = Arc::new(Mutex::new(Vec::new()));
        outlets[0].lock().plug(Box::new(Tape(Arc::clone(&tape))));
        tape.lock().clear();
        let (producer, consumer) = rtrb::RingBuffer::new(queue);
        (Intake::new(Shared::new(outlets), producer), consumer, tape)
    }

    #[test]
    fn every_kind_of_message_goes_through_byte_for_byte() {
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
        let (mut intake, _queue, tape) = intake(64);
        for message in messages {
            intake.receive(message);
        }
        assert_eq!(*tape.lock(), messages);
    }

    #[test]
    fn through_goes_on_when_nobody_runs_the_stage() {
        let (mut intake, queue, tape) = intake(4);
        drop(queue);
        for _ in 0..100 {
            intake.receive(&[0x90, 60, 1]);
        }
        assert_eq!(tape.lock().len(), 100);
        assert!(intake.shared.overflow.load(Ordering::Acquire));
    }

    #[test]
    fn active_sensing_is_a_promise_to_go_on() {
        // MIDI 1.0 detailed specification, "Active sensing".
        let (mut intake, _queue, _) = intake(64);
        intake.receive(&[0x90, 60, 1]);
        intake.last -= std::time::Duration::from_millis(400);
        assert!(!intake.fell_silent()); // it never promised
        intake.receive(&[0xFE]);
        assert!(!intake.fell_silent());
        intake.last -= std::time::Duration::from_millis(400);
        assert!(intake.fell_silent());
        intake.lost();
        assert!(!intake.fell_silent() && intake.down.is_empty());
    }

    #[test]
    fn a_withheld_control_is_told_to_the_stage_alone() {
        let (mut intake, mut queue, tape) = intake(64);
        intake.shared.withheld.set(Kind::Control, 0, 20, true);
        intake.receive(&[0xB0, 20, 127]);
        assert!(tape.lock().is_empty());
        assert!(queue.pop().is_ok());
    }
}
