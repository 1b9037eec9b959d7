//! One way out: sends in order, keeps what is refused, and knows what sounds.

use super::backlog::Backlog;
use crate::bridge::midi::{KeyState, Short, silence};

/// What carries a message away: a port, the built-in sound, a test.
pub trait Wire {
    /// Takes one whole message for `frame` of the present period, or refuses
    /// it whole.
    fn send(&mut self, frame: u32, message: &[u8]) -> Result<(), Refused>;
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

/// One output, whether or not it is plugged in now. It is owned by one thread,
/// which hands it the wire. Real-time safe.
#[derive(Default)]
pub struct Outlet {
    waiting: Backlog,
    /// What sounds on the other side, as far as it was delivered.
    delivered: KeyState,
    /// What should sound there: the player's and ours apart.
    player: KeyState,
    ours: KeyState,
    /// Channels that anything was sent on, a bit each.
    used: u16,
    /// Messages given up since the start.
    dropped: u32,
    /// Something that was given up may have been an end.
    owes: bool,
}

impl Outlet {
    /// Sends `message` now, or after what is waiting already.
    pub fn send(&mut self, who: Who, frame: u32, message: &[u8], wire: &mut dyn Wire) {
        let short = Short::new(message);
        if let Some(short) = short {
            match who {
                Who::Player => self.player.note(short),
                Who::Sinistra => self.ours.note(short),
            }
        }
        if self.waiting.is_empty() && wire.send(frame, message).is_ok() {
            if let Some(short) = short {
                self.note_delivered(short);
            }
        } else if !self.waiting.push(message) {
            self.dropped = self.dropped.saturating_add(1);
            self.owes = true;
        }
    }

    /// An end of the player's, at the beginning of a period.
    pub fn end(&mut self, end: Short, wire: &mut dyn Wire) {
        self.send(Who::Player, 0, end.bytes(), wire);
    }

    /// Nobody listens: what should sound is noted all the same.
    pub fn note(&mut self, who: Who, message: &[u8]) {
        if let Some(short) = Short::new(message) {
            match who {
                Who::Player => self.player.note(short),
                Who::Sinistra => self.ours.note(short),
            }
        }
    }

    /// Tries again what was refused: the ends that are owed first. True when
    /// nothing waits and nothing is owed any more.
    pub fn flush(&mut self, frame: u32, wire: &mut dyn Wire) -> bool {
        if self.owes && !self.pay(frame, wire) {
            return false;
        }
        while let Some(first) = self.waiting.first() {
            if wire.send(frame, first).is_err() {
                return false;
            }
            let short = Short::new(first);
            self.waiting.pop();
            if let Some(short) = short {
                self.note_delivered(short);
            }
        }
        // What waited may have begun what was ended meanwhile.
        self.owes = self.owes && !self.pay(frame, wire);
        !self.owes
    }

    /// Ends what sounds and should not. True when all of it was taken.
    fn pay(&mut self, frame: u32, wire: &mut dyn Wire) -> bool {
        let mut stuck = self.delivered.without(&self.player).without(&self.ours);
        let delivered = &mut self.delivered;
        stuck.end_all(|end| {
            let sent = wire.send(frame, end.bytes()).is_ok();
            if sent {
                delivered.note(end);
            }
            sent
        })
    }

    fn note_delivered(&mut self, message: Short) {
        self.delivered.note(message);
        if let Some((channel, _)) = message.channel() {
            self.used |= 1 << channel;
        }
    }

    /// Ends every note of the left hand, whatever the engine thinks.
    pub fn hush_left(&mut self) {
        self.ours = KeyState::default();
        self.owes = true;
    }

    /// Ends everything: the end of the program, or the panic key. What was
    /// waiting and has not begun will not begin. [`Self::flush`] sends it.
    pub fn hush_all(&mut self) {
        self.waiting.clear();
        self.player = KeyState::default();
        self.ours = KeyState::default();
        self.owes = true;
    }

    /// The strongest medicine, for a module that sounds something that we
    /// never sent: everything is let go of on all sixteen channels.
    pub fn silence(&mut self, frame: u32, wire: &mut dyn Wire) {
        self.hush_all();
        self.flush(frame, wire);
        silence(u16::MAX, |message| self.send(Who::Sinistra, frame, message.bytes(), wire));
    }

    /// The same before we leave, on the channels that were used.
    pub fn farewell(&self, send: impl FnMut(Short)) {
        silence(self.used, send);
    }

    /// The port is there (again): what it was left with when it went, or by
    /// an earlier run that was cut short, is let go of.
    pub fn plug(&mut self, wire: &mut dyn Wire) {
        self.waiting.clear();
        self.silence(0, wire);
    }

    /// The port is gone: what waited for it will not come.
    pub fn unplug(&mut self) {
        self.waiting.clear();
    }

    /// Whether nothing sounds on the other side, as far as we know.
    pub fn is_silent(&self) -> bool {
        self.delivered.is_empty()
    }

    /// Whether `end` would end something that sounds on the other side.
    pub fn sounds(&self, end: Short) -> bool {
        self.delivered.has(end)
    }

    /// Messages given up since the start.
    pub fn dropped(&self) -> u32 {
        self.dropped
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A wire with room for so many more messages.
    #[derive(Default)]
    struct Narrow {
        room: usize,
        sent: Vec<Vec<u8>>,
    }

    impl Narrow {
        /// Keys that sound after everything that was sent.
        fn sounding(&self) -> u32 {
            let mut down = KeyState::default();
            self.sent.iter().filter_map(|m| Short::new(m)).for_each(|m| down.note(m));
            down.count()
        }
    }

    impl Wire for Narrow {
        fn send(&mut self, _: u32, message: &[u8]) -> Result<(), Refused> {
            self.room = self.room.checked_sub(1).ok_or(Refused)?;
            self.sent.push(message.to_vec());
            Ok(())
        }
    }

    fn plugged(room: usize) -> (Outlet, Narrow) {
        let (mut outlet, mut wire) = (Outlet::default(), Narrow { room: 96, ..Narrow::default() });
        outlet.plug(&mut wire);
        wire.sent.clear();
        wire.room = room;
        (outlet, wire)
    }

    #[test]
    fn what_is_refused_goes_later_and_in_order() {
        let (mut outlet, mut wire) = plugged(1);
        for message in [&[0x90, 60, 1][..], &[0xF0, 1, 0xF7], &[0x80, 60, 0]] {
            outlet.send(Who::Player, 0, message, &mut wire);
        }
        assert!(!outlet.flush(0, &mut wire));
        wire.room = 9;
        assert!(outlet.flush(0, &mut wire));
        assert_eq!(wire.sent, [&[0x90, 60, 1][..], &[0xF0, 1, 0xF7], &[0x80, 60, 0]]);
    }

    #[test]
    fn ten_thousand_messages_wait_and_none_is_dropped() {
        let (mut outlet, mut wire) = plugged(1);
        let messages: Vec<[u8; 3]> =
            (0..10_000u16).map(|n| [0xB0, (n % 100) as u8, (n / 100) as u8]).collect();
        messages.iter().for_each(|m| outlet.send(Who::Player, 0, m, &mut wire));
        wire.room = 20_000;
        assert!(outlet.flush(0, &mut wire));
        assert_eq!((wire.sent.len(), outlet.dropped()), (10_000, 0));
        assert!(wire.sent.iter().zip(&messages).all(|(sent, message)| sent == message));
    }

    #[test]
    fn an_overflow_costs_messages_and_never_an_end_which_comes_first() {
        let (mut outlet, mut wire) = plugged(41);
        for key in 0..40 {
            outlet.send(Who::Player, 0, &[0x90, key, 1], &mut wire);
        }
        outlet.send(Who::Player, 0, &[0xE0, 0, 0], &mut wire);
        for _ in 0..40_000 {
            outlet.send(Who::Player, 0, &[0xA0, 1, 1], &mut wire); // fills the queue
        }
        for key in 0..40 {
            outlet.send(Who::Player, 0, &[0x80, key, 0], &mut wire); // dropped
        }
        outlet.send(Who::Player, 0, &[0xE0, 0, 64], &mut wire);
        assert!(outlet.dropped() >= 41);
        wire.room = 41;
        assert!(!outlet.flush(0, &mut wire));
        assert_eq!(wire.sounding(), 0, "ends go before all that waits");
        assert_eq!(wire.sent.last(), Some(&vec![0xE0, 0, 64]));
    }

    #[test]
    fn the_left_hand_ends_without_the_players_notes() {
        let (mut outlet, mut wire) = plugged(99);
        outlet.send(Who::Player, 0, &[0x90, 72, 1], &mut wire);
        outlet.send(Who::Sinistra, 0, &[0x90, 40, 1], &mut wire);
        outlet.hush_left();
        outlet.flush(0, &mut wire);
        assert_eq!(wire.sent.last(), Some(&vec![0x80, 40, 64]));
        assert_eq!(wire.sounding(), 1);
        outlet.hush_all();
        outlet.flush(0, &mut wire);
        assert_eq!(wire.sounding(), 0);
    }

    #[test]
    fn a_module_that_comes_back_lets_go_of_everything_that_midi_knows() {
        let (mut outlet, mut wire) = plugged(99);
        outlet.send(Who::Sinistra, 0, &[0x90, 40, 1], &mut wire);
        outlet.unplug();
        outlet.note(Who::Sinistra, &[0x80, 40, 64]); // while nobody listens
        let mut wire = Narrow { room: 199, ..Narrow::default() };
        outlet.plug(&mut wire);
        assert_eq!(wire.sent[0], [0x80, 40, 64]);
        // MIDI 1.0: damper, sostenuto, soft and hold pedal up, bend 8192, all notes off.
        let pedals = [64, 66, 67, 69].map(|pedal| [0xB0, pedal, 0]);
        assert_eq!(wire.sent[1..5], pedals);
        assert_eq!(wire.sent[5..7], [[0xE0, 0, 64], [0xB0, 123, 0]]);
        assert_eq!(wire.sent.len(), 1 + 16 * 6);
    }

    #[test]
    fn the_end_of_the_program_with_a_full_wire_waits_for_room() {
        let (mut outlet, mut wire) = plugged(1);
        outlet.send(Who::Sinistra, 0, &[0x90, 40, 1], &mut wire);
        outlet.hush_all();
        assert!(!outlet.flush(0, &mut wire));
        assert_eq!(wire.sounding(), 1);
        wire.room = 9;
        assert!(outlet.flush(0, &mut wire));
        assert_eq!(wire.sounding(), 0);
    }
}
