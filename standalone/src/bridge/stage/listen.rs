//! Turns what several keyboards send into what the engine hears: one
//! keyboard, each key down once.

use sinistra_core::engine::Message;
use sinistra_core::pitch::KeyNumber;

use crate::bridge::midi::{ChannelKind, RESET, SOSTENUTO, SUSTAIN, Short};

/// The channel of drums and pads, where no chords are played (General MIDI
/// System Level 1: channel 10).
const DRUMS: u16 = 1 << 9;

/// Counts the keys of all keyboards together. Real-time safe.
#[derive(Clone, Debug)]
pub struct Listen {
    /// How often each key is down, by channel.
    down: [[u8; 128]; 16],
    /// Keys that are down.
    count: u32,
    /// Bit n: channel n is listened to.
    channels: u16,
}

impl Listen {
    /// To these channels (bit n is channel n); none named is all but drums.
    pub fn new(channels: u16) -> Self {
        let channels = if channels == 0 { !DRUMS } else { channels };
        Self { down: [[0; 128]; 16], count: 0, channels }
    }

    /// Calls `tell` with what the engine must know of `message`.
    pub fn hear(&mut self, message: Short, mut tell: impl FnMut(Message)) {
        if message.status() == RESET {
            return self.forget(tell);
        }
        let Some((channel, kind)) = message.channel() else { return };
        if self.channels >> channel & 1 == 0 {
            return;
        }
        match kind {
            ChannelKind::On(key, velocity) => {
                if let Some(times) = self.times(channel, key) {
                    let was = *times;
                    *times = times.saturating_add(1);
                    self.count += u32::from(was == 0);
                    tell(Message::On { channel, key, velocity });
                }
            }
            ChannelKind::Off(key, velocity) => {
                if let Some(times) = self.times(channel, key) {
                    let was = *times;
                    *times = times.saturating_sub(1);
                    self.count -= u32::from(was == 1);
                    if was <= 1 {
                        tell(Message::Off { channel, key, velocity });
                    }
                }
            }
            ChannelKind::Control(controller, value) => {
                tell(Message::Control { channel, controller, value });
            }
            ChannelKind::Mode(controller, value) => {
                // All but "reset all controllers" and "local control" end notes.
                if !matches!(controller, 121 | 122) {
                    self.release(channel, &mut tell);
                }
                if controller == 121 {
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

    /// Keys that are down.
    pub fn count(&self) -> u32 {
        self.count
    }

    fn release(&mut self, channel: u8, tell: &mut impl FnMut(Message)) {
        for number in 0..128 {
            let key = KeyNumber::clamped(number);
            if self.times(channel, key).is_some_and(|times| std::mem::take(times) > 0) {
                self.count -= 1;
                tell(Message::Off { channel, key, velocity: 64 });
            }
        }
    }

    fn times(&mut self, channel: u8, key: KeyNumber) -> Option<&mut u8> {
        self.down.get_mut(usize::from(channel))?.get_mut(usize::from(key.number()))
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
            listen.hear(Short::new(message).expect("a message"), |m| heard.push(m));
        }
        heard
    }

    #[test]
    fn a_key_held_on_two_keyboards_is_up_when_both_are() {
        let mut listen = Listen::new(0);
        let offs = heard(&mut listen, &[[0x90, 60, 9], [0x90, 60, 9], [0x80, 60, 0]]);
        assert_eq!(offs.len(), 2); // two strikes, no release
        assert_eq!(heard(&mut listen, &[[0x80, 60, 0]]).len(), 1);
        assert_eq!(listen.count(), 0);
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
        assert_eq!(listen.count(), 1);
    }

    #[test]
    fn all_notes_off_lets_go_of_every_key_of_its_channel() {
        let mut listen = Listen::new(0);
        heard(&mut listen, &[[0x90, 60, 9], [0x90, 64, 9], [0x91, 67, 9]]);
        let offs = heard(&mut listen, &[[0xB0, 123, 0]]);
        assert_eq!(offs.len(), 3); // two keys and the message itself
        assert_eq!(listen.count(), 1);
        listen.forget(|_| ());
        assert_eq!(listen.count(), 0);
    }
}
