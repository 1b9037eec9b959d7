//! Turns what several keyboards send into what the engine hears: one
//! keyboard, each key down once.

use sinistra_core::engine::Message;
use sinistra_core::midi::{ChannelMode, KeyState};
use sinistra_core::pitch::KeyNumber;

use crate::bridge::midi::{ChannelKind, RESET, SOSTENUTO, SUSTAIN, Short};

/// The channel of drums and pads, where no chords are played (General MIDI
/// System Level 1: channel 10).
const DRUMS: u16 = 1 << 9;

/// Keyboards that are told apart.
pub const KEYBOARDS: usize = 16;

/// What is down on each keyboard. A key that a keyboard names is down or up,
/// however often it is named: a second note on without an end between is the
/// same finger still. Real-time safe.
#[derive(Clone, Debug)]
pub struct Listen {
    down: [KeyState; KEYBOARDS],
    /// Bit n: channel n is listened to.
    channels: u16,
}

impl Listen {
    /// To these channels (bit n is channel n); none named is all but drums.
    pub fn new(channels: u16) -> Self {
        let channels = if channels == 0 { !DRUMS } else { channels };
        Self { down: Default::default(), channels }
    }

    /// Calls `tell` with what the engine must know of `message`, which came
    /// from `keyboard` (0..[`KEYBOARDS`]).
    pub fn hear(&mut self, keyboard: usize, message: Short, mut tell: impl FnMut(Message)) {
        if message.status() == RESET {
            return self.forget(tell);
        }
        let Some((channel, kind)) = message.channel() else { return };
        if self.channels >> channel & 1 == 0 {
            return;
        }
        match kind {
            ChannelKind::On(key, velocity) => {
                if let Some(keys) = self.down.get_mut(keyboard) {
                    keys.press(channel, key);
                    tell(Message::On { channel, key, velocity });
                }
            }
            ChannelKind::Off(key, velocity) => {
                let was = self.is_down(channel, key);
                if let Some(keys) = self.down.get_mut(keyboard) {
                    keys.release(channel, key);
                }
                if was && !self.is_down(channel, key) {
                    tell(Message::Off { channel, key, velocity });
                }
            }
            ChannelKind::Control(controller, value) => {
                tell(Message::Control { channel, controller, value });
            }
            ChannelKind::Mode(controller, value) => {
                let mode = ChannelMode::of(controller);
                if mode.is_some_and(ChannelMode::ends_keys) {
                    self.release(channel, &mut tell);
                }
                if mode.is_some_and(ChannelMode::lifts_pedals) {
                    lift(channel, &mut tell);
                }
                tell(Message::Control { channel, controller, value });
            }
            _ => {}
        }
    }

    /// Everything comes up: messages were lost, or the panic key was pressed.
    pub fn forget(&mut self, mut tell: impl FnMut(Message)) {
        for channel in 0..16 {
            self.release(channel, &mut tell);
            lift(channel, &mut tell);
        }
    }

    /// Whether any key is down.
    pub fn any(&self) -> bool {
        self.down.iter().any(|keys| keys.any_down() != 0)
    }

    fn release(&mut self, channel: u8, tell: &mut impl FnMut(Message)) {
        for number in 0..128 {
            let key = KeyNumber::clamped(number);
            let was =
                self.down.iter_mut().fold(false, |was, keys| keys.release(channel, key) | was);
            if was {
                tell(Message::off(channel, key));
            }
        }
    }

    fn is_down(&self, channel: u8, key: KeyNumber) -> bool {
        self.down.iter().any(|keys| keys.is_down(channel, key))
    }
}

fn lift(channel: u8, tell: &mut impl FnMut(Message)) {
    for controller in [SUSTAIN, SOSTENUTO] {
        tell(Message::Control { channel, controller, value: 0 });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn heard(listen: &mut Listen, messages: &[[u8; 3]]) -> Vec<Message> {
        let mut heard = Vec::new();
        for message in messages {
            listen.hear(0, Short::new(message).expect("a message"), |m| heard.push(m));
        }
        heard
    }

    #[test]
    fn a_key_held_on_two_keyboards_is_up_when_both_are() {
        let mut listen = Listen::new(0);
        let mut heard = Vec::new();
        for (keyboard, message) in [(0, [0x90, 60, 9]), (1, [0x90, 60, 9]), (0, [0x80, 60, 0])] {
            listen.hear(keyboard, Short::new(&message).expect("a message"), |m| heard.push(m));
        }
        assert_eq!(heard.len(), 2); // two strikes, no release
        listen.hear(1, Short::new(&[0x80, 60, 0]).expect("a message"), |m| heard.push(m));
        assert_eq!(heard.len(), 3);
        assert!(!listen.any());
    }

    #[test]
    fn a_key_that_one_keyboard_names_twice_is_up_at_its_first_end() {
        let mut listen = Listen::new(0);
        let all = heard(&mut listen, &[[0x90, 60, 9], [0x90, 60, 9], [0x80, 60, 0]]);
        assert_eq!(all.len(), 3); // two strikes and the release
        assert!(!listen.any());
        assert!(heard(&mut listen, &[[0x80, 60, 0]]).is_empty(), "up is up");
    }

    #[test]
    fn pads_on_channel_10_are_no_chords() {
        assert!(heard(&mut Listen::new(0), &[[0x99, 36, 9]]).is_empty());
        assert_eq!(heard(&mut Listen::new(1 << 9), &[[0x99, 36, 9]]).len(), 1);
    }

    #[test]
    fn reset_all_controllers_lifts_pedals_and_local_control_does_nothing() {
        // MIDI 1.0 detailed specification, "Channel mode messages": 121 and 122
        // end no notes, and 121 lifts the pedals.
        let mut listen = Listen::new(0);
        heard(&mut listen, &[[0x90, 60, 9], [0xB0, 64, 127]]);
        let pedal_up = Message::Control { channel: 0, controller: SUSTAIN, value: 0 };
        assert!(!heard(&mut listen, &[[0xB0, 122, 0]]).contains(&pedal_up));
        assert!(heard(&mut listen, &[[0xB0, 121, 0]]).contains(&pedal_up));
        assert!(listen.any());
    }

    #[test]
    fn all_notes_off_lets_go_of_every_key_of_its_channel() {
        let mut listen = Listen::new(0);
        heard(&mut listen, &[[0x90, 60, 9], [0x90, 64, 9], [0x91, 67, 9]]);
        let offs = heard(&mut listen, &[[0xB0, 123, 0]]);
        assert_eq!(offs.len(), 3); // two keys and the message itself
        assert!(listen.any());
        listen.forget(|_| ());
        assert!(!listen.any());
    }
}
