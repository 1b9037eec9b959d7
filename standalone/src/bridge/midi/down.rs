//! What is down: keys that sound and pedals that hold, by channel.

use sinistra_core::midi::{
    ALL_NOTES_OFF, ALL_SOUND_OFF, ChannelKind, RESET, RESET_CONTROLLERS, SOFT, SOSTENUTO, SUSTAIN,
    Short,
};
use sinistra_core::pitch::KeyNumber;

const PEDALS: [u8; 3] = [SUSTAIN, SOSTENUTO, SOFT];

/// Follows the messages that went one way over a port; knows what it takes
/// to end everything. Fixed size; real-time safe.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Down {
    /// Bit n is key n, a channel each.
    keys: [u128; 16],
    /// Bit n is `PEDALS[n]`, a channel each.
    pedals: [u8; 16],
}

impl Down {
    /// Notes one message.
    pub fn note(&mut self, message: Short) {
        if message.status() == RESET {
            *self = Self::default();
        }
        let Some((channel, kind)) = message.channel() else { return };
        let (Some(keys), Some(pedals)) =
            (self.keys.get_mut(usize::from(channel)), self.pedals.get_mut(usize::from(channel)))
        else {
            return;
        };
        match kind {
            ChannelKind::On(key, _) => *keys |= 1 << key.number(),
            ChannelKind::Off(key, _) => *keys &= !(1 << key.number()),
            ChannelKind::Control(controller, value) => {
                for (bit, pedal) in PEDALS.iter().enumerate() {
                    if *pedal == controller {
                        *pedals = *pedals & !(1 << bit) | u8::from(value >= 64) << bit;
                    }
                }
            }
            ChannelKind::Mode(RESET_CONTROLLERS, _) => *pedals = 0,
            ChannelKind::Mode(ALL_SOUND_OFF | ALL_NOTES_OFF.., _) => *keys = 0,
            _ => {}
        }
    }

    /// What is down here and not in `other`.
    #[must_use]
    pub fn without(&self, other: &Self) -> Self {
        let mut rest = self.clone();
        rest.keys.iter_mut().zip(&other.keys).for_each(|(mine, theirs)| *mine &= !theirs);
        rest.pedals.iter_mut().zip(&other.pedals).for_each(|(mine, theirs)| *mine &= !theirs);
        rest
    }

    /// Whether nothing is down.
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }

    /// How many keys are down.
    #[cfg(test)]
    pub fn count(&self) -> u32 {
        self.keys.iter().map(|keys| keys.count_ones()).sum()
    }

    /// The messages that end everything: an off for each key, then 0 for
    /// each pedal that holds. Stops as soon as `send` says no; what was sent
    /// is up then, what was not is still down.
    pub fn release(&mut self, mut send: impl FnMut(Short) -> bool) -> bool {
        for channel in 0..16u8 {
            let at = usize::from(channel);
            while let Some(keys) = self.keys.get(at).copied().filter(|&keys| keys != 0) {
                let key = KeyNumber::clamped(keys.trailing_zeros() as i32);
                let message = Short::off(channel, key, 64);
                if !send(message) {
                    return false;
                }
                self.note(message);
            }
            for (bit, pedal) in PEDALS.iter().enumerate() {
                if self.pedals.get(at).is_some_and(|pedals| pedals >> bit & 1 == 1) {
                    let message = Short::channel_message(super::CONTROL, channel, *pedal, 0);
                    if !send(message) {
                        return false;
                    }
                    self.note(message);
                }
            }
        }
        true
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
        held.note(Short::channel_message(0xB0, 5, SUSTAIN, 127));
        assert_eq!(released(&mut held), [[0x80, 60, 64], [0x85, 127, 64], [0xB5, 64, 0]]);
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
