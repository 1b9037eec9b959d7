//! One way out: sends in order, keeps what is refused, and knows what sounds.

use std::collections::VecDeque;

use crate::bridge::midi::{Down, Short};

/// What carries a message away: a port, the built-in sound, a test.
pub trait Wire: Send {
    /// Takes one whole message, or refuses it whole.
    fn send(&mut self, message: &[u8]) -> Result<(), Refused>;
}

/// The wire had no room, or is gone.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Refused;

/// Who a message comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Who {
    /// Straight from a keyboard.
    Player,
    /// The engine, the metronome, the clock.
    Sinistra,
}

/// How many refused messages are kept. A module on a MIDI cable takes a
/// thousand in about a second.
const WAITING: usize = 1024;

enum Waiting {
    Short(Short),
    /// System exclusive.
    Long(Box<[u8]>),
}

/// One output, whether or not it is plugged in now.
pub struct Outlet {
    wire: Option<Box<dyn Wire>>,
    waiting: VecDeque<Waiting>,
    /// What sounds on the other side, as far as it was delivered.
    delivered: Down,
    /// What should sound there: the player's and ours apart.
    player: Down,
    ours: Down,
    /// Messages given up since the start.
    dropped: u32,
    /// An overflow may have lost note-offs.
    owes: bool,
}

impl Default for Outlet {
    fn default() -> Self {
        Self {
            wire: None,
            waiting: VecDeque::with_capacity(WAITING),
            delivered: Down::default(),
            player: Down::default(),
            ours: Down::default(),
            dropped: 0,
            owes: false,
        }
    }
}

impl Outlet {
    /// Sends `message` now, or after what is waiting already.
    pub fn send(&mut self, who: Who, message: &[u8]) {
        let short = Short::new(message);
        if let Some(short) = short {
            match who {
                Who::Player => self.player.note(short),
                Who::Sinistra => self.ours.note(short),
            }
        }
        let Some(wire) = &mut self.wire else { return };
        if self.waiting.is_empty() && wire.send(message).is_ok() {
            if let Some(short) = short {
                self.delivered.note(short);
            }
            return;
        }
        if self.waiting.len() >= WAITING {
            self.dropped = self.dropped.saturating_add(1);
            self.owes = true;
            return;
        }
        self.waiting.push_back(short.map_or_else(|| Waiting::Long(message.into()), Waiting::Short));
    }

    /// Tries again what was refused. True when nothing is owed any more.
    pub fn flush(&mut self) -> bool {
        let Some(wire) = &mut self.wire else { return true };
        while let Some(first) = self.waiting.front() {
            let sent = match first {
                Waiting::Short(short) => wire.send(short.bytes()),
                Waiting::Long(long) => wire.send(long),
            };
            if sent.is_err() {
                return false;
            }
            if let Some(Waiting::Short(short)) = self.waiting.pop_front() {
                self.delivered.note(short);
            }
        }
        if self.owes {
            let mut stuck = self.delivered.without(&self.player).without(&self.ours);
            let all = stuck.release(|off| {
                let sent = wire.send(off.bytes()).is_ok();
                if sent {
                    self.delivered.note(off);
                }
                sent
            });
            self.owes = !all;
        }
        !self.owes
    }

    /// Ends every note of the left hand, whatever the engine thinks.
    pub fn hush_left(&mut self) {
        let mut ours = self.ours.clone();
        ours.release(|off| {
            self.send(Who::Sinistra, off.bytes());
            true
        });
    }

    /// Ends everything: the end of the program, or the panic key. What was
    /// waiting and has not begun will not begin.
    pub fn hush_all(&mut self) {
        self.waiting.clear();
        self.player = Down::default();
        self.ours = Down::default();
        self.owes = true;
        self.flush();
    }

    /// The strongest medicine: all notes off on all sixteen channels, for a
    /// module that sounds something that we never sent.
    pub fn all_notes_off(&mut self) {
        self.hush_all();
        for channel in 0..16 {
            let message = Short::all_notes_off(channel);
            self.send(Who::Sinistra, message.bytes());
        }
    }

    /// The port is there (again). What it was left sounding when it went is
    /// ended first; then all notes off, in case an earlier run was cut short.
    pub fn plug(&mut self, wire: Box<dyn Wire>) {
        self.wire = Some(wire);
        self.waiting.clear();
        self.all_notes_off();
    }

    /// The port is gone; the wire is given back to be closed outside a lock.
    pub fn unplug(&mut self) -> Option<Box<dyn Wire>> {
        self.waiting.clear();
        self.wire.take()
    }

    /// Messages given up since the start.
    pub fn dropped(&self) -> u32 {
        self.dropped
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Arc;

    use parking_lot::Mutex;

    /// A wire with room for so many more messages.
    #[derive(Clone, Default)]
    struct Narrow {
        room: Arc<Mutex<usize>>,
        sent: Arc<Mutex<Vec<Vec<u8>>>>,
    }

    impl Narrow {
        fn make_room(&self, room: usize) {
            *self.room.lock() = room;
        }

        /// Keys that sound after everything that was sent.
        fn sounding(&self) -> u32 {
            let mut down = Down::default();
            self.sent.lock().iter().filter_map(|m| Short::new(m)).for_each(|m| down.note(m));
            down.count()
        }
    }

    impl Wire for Narrow {
        fn send(&mut self, message: &[u8]) -> Result<(), Refused> {
            let mut room = self.room.lock();
            *room = room.checked_sub(1).ok_or(Refused)?;
            self.sent.lock().push(message.to_vec());
            Ok(())
        }
    }

    fn plugged(room: usize) -> (Outlet, Narrow) {
        let (mut outlet, wire) = (Outlet::default(), Narrow::default());
        wire.make_room(16 + room); // all notes off on sixteen channels
        outlet.plug(Box::new(wire.clone()));
        wire.sent.lock().clear();
        (outlet, wire)
    }

    #[test]
    fn what_is_refused_goes_later_and_in_order() {
        let (mut outlet, wire) = plugged(1);
        for message in [&[0x90, 60, 1][..], &[0xF0, 1, 0xF7], &[0x80, 60, 0]] {
            outlet.send(Who::Player, message);
        }
        assert!(!outlet.flush());
        wire.make_room(9);
        assert!(outlet.flush());
        assert_eq!(*wire.sent.lock(), [&[0x90, 60, 1][..], &[0xF0, 1, 0xF7], &[0x80, 60, 0]]);
    }

    #[test]
    fn an_overflow_costs_missing_notes_and_never_a_stuck_one() {
        let (mut outlet, wire) = plugged(40);
        for key in 0..40 {
            outlet.send(Who::Player, &[0x90, key, 1]);
        }
        for _ in 0..1000 {
            outlet.send(Who::Player, &[0xE0, 0, 0]); // the bender fills the queue
        }
        for key in 0..40 {
            outlet.send(Who::Player, &[0x80, key, 0]); // sixteen of these are dropped
        }
        assert!(outlet.dropped() >= 16);
        wire.make_room(5000);
        assert!(outlet.flush());
        assert_eq!(wire.sounding(), 0);
    }

    #[test]
    fn the_left_hand_ends_without_the_players_notes() {
        let (mut outlet, wire) = plugged(99);
        outlet.send(Who::Player, &[0x90, 72, 1]);
        outlet.send(Who::Sinistra, &[0x90, 40, 1]);
        outlet.hush_left();
        assert_eq!(wire.sent.lock().last(), Some(&vec![0x80, 40, 64]));
        assert_eq!(wire.sounding(), 1);
        outlet.hush_all();
        assert_eq!(wire.sounding(), 0);
    }

    #[test]
    fn a_module_that_comes_back_is_told_to_end_what_it_may_still_sound() {
        let (mut outlet, _) = plugged(99);
        outlet.send(Who::Sinistra, &[0x90, 40, 1]);
        outlet.unplug();
        outlet.send(Who::Sinistra, &[0x80, 40, 64]); // while nobody listens
        let wire = Narrow::default();
        wire.make_room(99);
        outlet.plug(Box::new(wire.clone()));
        assert_eq!(wire.sent.lock()[0], [0x80, 40, 64]);
        assert_eq!(wire.sent.lock().len(), 17); // and all notes off on each channel
    }

    #[test]
    fn the_end_of_the_program_with_a_full_wire_waits_for_room() {
        let (mut outlet, wire) = plugged(1);
        outlet.send(Who::Sinistra, &[0x90, 40, 1]);
        outlet.hush_all();
        assert_eq!(wire.sounding(), 1);
        wire.make_room(9);
        assert!(outlet.flush());
        assert_eq!(wire.sounding(), 0);
    }
}
