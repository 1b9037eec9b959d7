//! What a channel message means to whoever plays or listens.

use super::short::{CONTROL, ChannelKind, Short};
use crate::pitch::KeyNumber;

/// Release velocity where none is known (MIDI 1.0, "Note off").
pub const UNKNOWN_RELEASE: u8 = 64;

/// A MIDI 1.0 channel voice message, as far as a left hand cares.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs, reason = "their names say it")]
pub enum Message {
    /// Velocity 1..=127.
    On { channel: u8, key: KeyNumber, velocity: u8 },
    /// Release velocity 0..=127; [`UNKNOWN_RELEASE`] where it is not known.
    Off { channel: u8, key: KeyNumber, velocity: u8 },
    /// Controller 0..=127, value 0..=127; 64 is sustain, 66 sostenuto, and from
    /// 120 on see [`super::ChannelMode`].
    Control { channel: u8, controller: u8, value: u8 },
}

impl Message {
    /// The end of a note whose release velocity nobody knows.
    pub const fn off(channel: u8, key: KeyNumber) -> Self {
        Self::Off { channel, key, velocity: UNKNOWN_RELEASE }
    }

    /// Puts messages into the order of their times; at one time ends come before starts,
    /// so that a key can be struck again.
    pub fn sort<T: Copy + Ord>(messages: &mut [(T, Self)]) {
        messages.sort_by_key(|(at, message)| (*at, matches!(message, Self::On { .. })));
    }

    /// What the bytes mean; `None` for a message that is none of the three.
    pub fn read(short: Short) -> Option<Self> {
        let (channel, kind) = short.channel()?;
        Some(match kind {
            ChannelKind::On(key, velocity) => Self::On { channel, key, velocity },
            ChannelKind::Off(key, velocity) => Self::Off { channel, key, velocity },
            ChannelKind::Control(controller, value) | ChannelKind::Mode(controller, value) => {
                Self::Control { channel, controller, value }
            }
            ChannelKind::Program(_) | ChannelKind::Bend(_) | ChannelKind::Other => return None,
        })
    }
}

impl From<Message> for Short {
    fn from(message: Message) -> Self {
        match message {
            Message::On { channel, key, velocity } => Self::on(channel, key, velocity),
            Message::Off { channel, key, velocity } => Self::off(channel, key, velocity),
            Message::Control { channel, controller, value } => {
                Self::channel_message(CONTROL, channel, controller, value)
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn meaning_and_bytes_are_the_same_message() {
        for bytes in [[0x93, 60, 1], [0x83, 60, 0], [0xB0, 64, 127], [0xBF, 123, 0]] {
            let short = Short::new(&bytes).expect("a message");
            let message = Message::read(short).expect("of the three");
            assert_eq!(Short::from(message).bytes(), bytes);
        }
        let silent = Short::new(&[0x90, 60, 0]).and_then(Message::read);
        assert_eq!(silent, Some(Message::off(0, KeyNumber::MIDDLE_C)), "velocity 0 ends a note");
        assert_eq!(Short::new(&[0xC0, 5]).and_then(Message::read), None);
    }
}
