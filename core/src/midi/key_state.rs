//! What is down: keys, pedals and turned benders, by channel.

use super::message::Message;
use super::mode::ChannelMode;
use super::short::{CONTROL, ChannelKind, MIDDLE, RESET, SOFT, SOSTENUTO, SUSTAIN, Short};
use crate::pitch::KeyNumber;

/// The second hold pedal (table III of the specification, controller 69).
const HOLD: u8 = 69;

/// The pedals that are followed: each is on from value 64.
pub const PEDALS: [u8; 4] = [SUSTAIN, SOSTENUTO, SOFT, HOLD];

/// Follows the messages that went one way; knows what it takes to end
/// everything. Fixed size; real-time safe.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct KeyState {
    /// Bit n is key n, a channel each.
    keys: [u128; 16],
    /// Bit n is `PEDALS[n]`, a channel each.
    pedals: [u8; 16],
    /// Bit n: the bender of channel n is not in its middle.
    bent: u16,
}

impl KeyState {
    /// A key goes down; whether it was down before.
    pub fn press(&mut self, channel: u8, key: KeyNumber) -> bool {
        let was = self.is_down(channel, key);
        if let Some(keys) = self.keys.get_mut(usize::from(channel)) {
            *keys |= 1 << key.number();
        }
        was
    }

    /// A key comes up; whether it was down before.
    pub fn release(&mut self, channel: u8, key: KeyNumber) -> bool {
        let was = self.is_down(channel, key);
        if let Some(keys) = self.keys.get_mut(usize::from(channel)) {
            *keys &= !(1 << key.number());
        }
        was
    }

    /// A controller moves: a pedal, or a channel mode message ([`ChannelMode`]).
    pub fn control(&mut self, channel: u8, controller: u8, value: u8) {
        let at = usize::from(channel);
        let (Some(keys), Some(pedals)) = (self.keys.get_mut(at), self.pedals.get_mut(at)) else {
            return;
        };
        if let Some(bit) = PEDALS.iter().position(|pedal| *pedal == controller) {
            *pedals = *pedals & !(1 << bit) | u8::from(value >= 64) << bit;
        }
        let mode = ChannelMode::of(controller);
        if mode.is_some_and(ChannelMode::ends_keys) {
            *keys = 0;
        }
        // Recommended Practice RP-015: the bender goes to its middle with them.
        if mode.is_some_and(ChannelMode::lifts_pedals) {
            *pedals = 0;
            self.bent &= !bit(channel);
        }
    }

    /// Follows one message.
    pub fn hear(&mut self, message: Message) {
        match message {
            Message::On { channel, key, .. } => _ = self.press(channel, key),
            Message::Off { channel, key, .. } => _ = self.release(channel, key),
            Message::Control { channel, controller, value } => {
                self.control(channel, controller, value);
            }
        }
    }

    /// Follows one message as bytes, benders too; a system reset ends everything.
    pub fn note(&mut self, message: Short) {
        if message.status() == RESET {
            *self = Self::default();
        } else if let Some((channel, ChannelKind::Bend(to))) = message.channel() {
            let turned = if to == MIDDLE { 0 } else { bit(channel) };
            self.bent = self.bent & !bit(channel) | turned;
        } else if let Some(message) = Message::read(message) {
            self.hear(message);
        }
    }

    /// Whether a key is down.
    pub fn is_down(&self, channel: u8, key: KeyNumber) -> bool {
        self.down(channel) >> key.number() & 1 == 1
    }

    /// The keys that are down on a channel; bit n is key n.
    pub fn down(&self, channel: u8) -> u128 {
        self.keys.get(usize::from(channel)).copied().unwrap_or(0)
    }

    /// The keys that are down on any channel; bit n is key n.
    pub fn any_down(&self) -> u128 {
        self.keys.iter().fold(0, |all, keys| all | keys)
    }

    /// What is down here and not in `other`.
    #[must_use]
    pub fn without(&self, other: &Self) -> Self {
        let mut rest = self.clone();
        rest.keys.iter_mut().zip(&other.keys).for_each(|(mine, theirs)| *mine &= !theirs);
        rest.pedals.iter_mut().zip(&other.pedals).for_each(|(mine, theirs)| *mine &= !theirs);
        rest.bent &= !other.bent;
        rest
    }

    /// Whether nothing is down.
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }

    /// How many keys are down.
    pub fn count(&self) -> u32 {
        self.keys.iter().map(|keys| keys.count_ones()).sum()
    }

    /// Whether the key, pedal or bender that `end` would end is down here.
    pub fn has(&self, end: Short) -> bool {
        let mut after = self.clone();
        after.note(end);
        after != *self
    }

    /// The messages that end everything: an off for each key, then 0 for each
    /// pedal that is down, then the middle for each bender. Stops as soon as `send`
    /// says no; what was sent is up then, what was not is still down. Whether all
    /// of it was sent.
    pub fn end_all(&mut self, mut send: impl FnMut(Short) -> bool) -> bool {
        if !self.end(|end| send(end.into())) {
            return false;
        }
        while self.bent != 0 {
            let channel = u8::try_from(self.bent.trailing_zeros()).unwrap_or(0);
            if !send(Short::bend(channel, MIDDLE)) {
                return false;
            }
            self.bent &= !bit(channel);
        }
        true
    }

    /// The same of keys and pedals alone, which is all that [`Message`] knows.
    pub fn end(&mut self, mut send: impl FnMut(Message) -> bool) -> bool {
        for channel in 0..16 {
            while let Some(message) = self.next_end(channel) {
                if !send(message) {
                    return false;
                }
                self.hear(message);
            }
        }
        true
    }

    fn next_end(&self, channel: u8) -> Option<Message> {
        let keys = self.down(channel);
        if keys != 0 {
            let key = KeyNumber::clamped(keys.trailing_zeros() as i32);
            return Some(Message::off(channel, key));
        }
        let pedals = self.pedals.get(usize::from(channel)).copied().unwrap_or(0);
        let controller = *PEDALS.get(pedals.trailing_zeros() as usize)?;
        Some(Message::Control { channel, controller, value: 0 })
    }
}

/// Lets go of everything that a module may have been left with, by us or by
/// who was there before: pedals up, benders in the middle, all notes off, on
/// every channel that has its bit in `channels`.
pub fn silence(channels: u16, mut send: impl FnMut(Short)) {
    for channel in (0..16).filter(|channel| channels & bit(*channel) != 0) {
        for pedal in PEDALS {
            send(Short::channel_message(CONTROL, channel, pedal, 0));
        }
        send(Short::bend(channel, MIDDLE));
        send(Short::all_notes_off(channel));
    }
}

/// The bit of a channel, 0..=15.
const fn bit(channel: u8) -> u16 {
    1 << (channel & 15)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn down(messages: &[&[u8]]) -> KeyState {
        let mut down = KeyState::default();
        messages.iter().filter_map(|m| Short::new(m)).for_each(|m| down.note(m));
        down
    }

    fn released(down: &mut KeyState) -> Vec<Vec<u8>> {
        let mut sent = Vec::new();
        down.end_all(|m| {
            sent.push(m.bytes().to_vec());
            true
        });
        sent
    }

    #[test]
    fn everything_that_went_down_comes_up_once() {
        let mut held = down(&[&[0x90, 60, 1], &[0x95, 127, 1], &[0x90, 62, 1], &[0x80, 62, 0]]);
        held.note(Short::channel_message(0xB0, 5, SUSTAIN, 127));
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
    fn each_pedal_and_each_bender_is_its_own() {
        let soft = [0xB1, SOFT, 127];
        let two = [&soft[..], &[0xB1, SUSTAIN, 127]];
        assert_eq!(released(&mut down(&two)), [[0xB1, SUSTAIN, 0], [0xB1, SOFT, 0]]);
        let one = [&soft[..], &[0xB1, SUSTAIN, 127], &[0xB1, SUSTAIN, 0]];
        assert_eq!(released(&mut down(&one)), [[0xB1, SOFT, 0]]);
        let bends: [&[u8]; 3] = [&[0xE1, 0, 0], &[0xE4, 0, 0], &[0xB4, 121, 0]];
        assert_eq!(released(&mut down(&bends)), [[0xE1, 0, 64]]);
        let bends: [&[u8]; 3] = [&[0xE1, 0, 0], &[0xE4, 0, 0], &[0xE4, 0, 64]];
        assert_eq!(released(&mut down(&bends)), [[0xE1, 0, 64]]);
    }

    #[test]
    fn a_key_is_down_on_its_channel_and_on_any() {
        let held = down(&[&[0x90, 60, 1], &[0x95, 60, 1], &[0x95, 61, 1]]);
        assert_eq!([held.down(0), held.down(5), held.down(1)], [1 << 60, 3 << 60, 0]);
        assert_eq!(held.any_down(), 3 << 60);
        assert!(!held.is_empty());
        assert!(held.has(Short::channel_message(0x80, 5, 61, 0)));
        assert!(!held.has(Short::channel_message(0x80, 0, 61, 0)));
    }

    #[test]
    fn what_is_down_here_alone_is_what_the_other_has_not() {
        let alone: [&[u8]; 3] = [&[0xB0, SUSTAIN, 127], &[0x90, 60, 1], &[0xE0, 0, 0]];
        let both: [&[u8]; 2] = [&[0xB0, SOFT, 127], &[0xE1, 0, 0]];
        let there: [&[u8]; 2] = [&[0xB0, HOLD, 127], &[0x91, 60, 1]];
        let (here, there) = ([&alone[..], &both].concat(), [&both[..], &there].concat());
        assert_eq!(down(&here).without(&down(&there)), down(&alone));
    }

    #[test]
    fn a_module_is_let_go_of_on_the_channels_that_are_meant_alone() {
        let mut sent = Vec::new();
        silence(1 << 2, |short| sent.push(short.bytes().to_vec()));
        let pedals = PEDALS.map(|pedal| vec![0xB2, pedal, 0]);
        assert_eq!(sent, [&pedals[..], &[vec![0xE2, 0, 64], vec![0xB2, 123, 0]]].concat());
    }

    #[test]
    fn what_the_port_refuses_stays_down() {
        let mut held = down(&[&[0x90, 60, 1], &[0x90, 61, 1]]);
        let mut room = 1;
        assert!(!held.end_all(|_| {
            room -= 1;
            room >= 0
        }));
        assert_eq!(held.count(), 1);
    }
}
