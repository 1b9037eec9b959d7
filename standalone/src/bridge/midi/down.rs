//! What is down on a wire: keys that sound, pedals that hold, and benders that
//! are turned, by channel.

use sinistra_core::midi::{
    CONTROL, ChannelKind, ChannelMode, KeyState, MIDDLE, Message, PEDALS, RESET, Short,
};

/// Follows the messages that went one way over a port; knows what it takes
/// to end everything. Fixed size; real-time safe.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Down {
    /// Keys and pedals.
    keys: KeyState,
    /// Bit n: the bender of channel n is not in its middle.
    bent: u16,
}

impl Down {
    /// Notes one message.
    pub fn note(&mut self, message: Short) {
        self.keys.note(message);
        match message.channel() {
            Some((channel, ChannelKind::Bend(to))) => {
                self.bent = self.bent & !(1 << channel) | u16::from(to != MIDDLE) << channel;
            }
            // Recommended Practice RP-015: the bender goes to its middle too.
            Some((channel, ChannelKind::Mode(mode, _)))
                if ChannelMode::of(mode).is_some_and(ChannelMode::lifts_pedals) =>
            {
                self.bent &= !(1 << channel);
            }
            None if message.status() == RESET => self.bent = 0,
            _ => {}
        }
    }

    /// What is down here and not in `other`.
    #[must_use]
    pub fn without(&self, other: &Self) -> Self {
        Self { keys: self.keys.without(&other.keys), bent: self.bent & !other.bent }
    }

    /// Whether nothing is down.
    pub fn is_empty(&self) -> bool {
        self.keys.is_empty() && self.bent == 0
    }

    /// Whether the key, pedal or bender that `end` would end is down here.
    pub fn has(&self, end: Short) -> bool {
        let mut after = self.clone();
        after.note(end);
        after != *self
    }

    /// How many keys are down.
    #[cfg(test)]
    pub fn count(&self) -> u32 {
        self.keys.count()
    }

    /// The messages that end everything: an off for each key, then 0 for
    /// each pedal that holds, and the middle for each bender. Stops as soon as
    /// `send` says no; what was sent is up then, what was not is still down.
    pub fn release(&mut self, mut send: impl FnMut(Short) -> bool) -> bool {
        if !self.keys.end(|end: Message| send(end.into())) {
            return false;
        }
        while self.bent != 0 {
            let channel = self.bent.trailing_zeros() as u8;
            if !send(Short::bend(channel, MIDDLE)) {
                return false;
            }
            self.bent &= !(1 << channel);
        }
        true
    }
}

/// Lets go of everything that a module may have been left with, by us or by
/// who was there before: pedals up, benders in the middle, all notes off, on
/// every channel that has its bit in `channels`.
pub fn silence(channels: u16, mut send: impl FnMut(Short)) {
    for channel in (0..16).filter(|channel| channels >> channel & 1 == 1) {
        for pedal in PEDALS {
            send(Short::channel_message(CONTROL, channel, pedal, 0));
        }
        send(Short::bend(channel, MIDDLE));
        send(Short::all_notes_off(channel));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn down(messages: &[&[u8]]) -> Down {
        let mut down = Down::default();
        messages.iter().filter_map(|m| Short::new(m)).for_each(|m| down.note(m));
        down
    }

    fn released(down: &mut Down) -> Vec<Vec<u8>> {
        let mut sent = Vec::new();
        down.release(|m| {
            sent.push(m.bytes().to_vec());
            true
        });
        sent
    }

    #[test]
    fn everything_that_went_down_comes_up_once() {
        let mut held = down(&[&[0x90, 60, 1], &[0x95, 127, 1], &[0x90, 62, 1], &[0x80, 62, 0]]);
        held.note(Short::channel_message(0xB0, 5, 64, 127));
        held.note(Short::bend(5, 16_383));
        let ends = [[0x80, 60, 64], [0x85, 127, 64], [0xB5, 64, 0], [0xE5, 0, 64]];
        assert_eq!(released(&mut held), ends);
        assert!(held.is_empty());
        assert!(released(&mut held).is_empty());
    }

    #[test]
    fn channel_mode_messages_end_notes_of_their_channel() {
        // MIDI 1.0: 120 and 123 to 127 end notes, 121 lifts the pedals, 122
        // (local control) does neither.
        for (controller, left) in [(120, 1), (121, 2), (122, 2), (123, 1), (124, 1), (127, 1)] {
            let held = down(&[&[0x90, 60, 1], &[0x91, 60, 1], &[0xB0, controller, 0]]);
            assert_eq!(held.count(), left, "controller {controller}");
        }
        assert!(down(&[&[0xB2, 64, 127], &[0xB2, 121, 0]]).is_empty());
        assert!(down(&[&[0x90, 60, 1], &[0xFF]]).is_empty());
    }

    #[test]
    fn what_the_port_refuses_stays_down() {
        let mut held = down(&[&[0x90, 60, 1], &[0x90, 61, 1]]);
        let mut room = 1;
        assert!(!held.release(|_| {
            room -= 1;
            room >= 0
        }));
        assert_eq!(held.count(), 1);
    }
}
