//! A MIDI message of one to three bytes.
//!
//! Source of every number: The Complete MIDI 1.0 Detailed Specification
//! (document version 96.1), tables I to V.

use crate::pitch::KeyNumber;

/// Note off, high half of the status byte.
pub const NOTE_OFF: u8 = 0x80;
/// Note on; velocity 0 is a note off.
pub const NOTE_ON: u8 = 0x90;
/// Control change.
pub const CONTROL: u8 = 0xB0;
/// Pitch bend, 14 bits, low seven first.
pub const BEND: u8 = 0xE0;
/// Where a bender rests.
pub const MIDDLE: u16 = 0x2000;
/// Program change.
pub const PROGRAM: u8 = 0xC0;

/// Song position pointer: in sixteenths, 14 bits, low seven first.
pub const SONG_POSITION: u8 = 0xF2;
/// Timing clock, 24 a quarter note.
pub const CLOCK: u8 = 0xF8;
/// Start from the top at the next clock.
pub const START: u8 = 0xFA;
/// Go on from where it stopped (or from the song position) at the next clock.
pub const CONTINUE: u8 = 0xFB;
/// Stop.
pub const STOP: u8 = 0xFC;
/// Active sensing: a promise to send something every 300 ms.
pub const ACTIVE_SENSING: u8 = 0xFE;
/// System reset.
pub const RESET: u8 = 0xFF;

/// Damper pedal.
pub const SUSTAIN: u8 = 64;
/// Sostenuto pedal.
pub const SOSTENUTO: u8 = 66;
/// Soft pedal.
pub const SOFT: u8 = 67;
/// Channel mode: all sound off.
pub const ALL_SOUND_OFF: u8 = 120;
/// Channel mode: reset all controllers.
pub const RESET_CONTROLLERS: u8 = 121;
/// Channel mode: all notes off; 124 to 127 imply it.
pub const ALL_NOTES_OFF: u8 = 123;

/// One to three bytes, status first; never a system exclusive.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Short {
    bytes: [u8; 3],
    len: u8,
}

/// A channel message, read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ChannelKind {
    /// Velocity 1..=127.
    On(KeyNumber, u8),
    /// Velocity 0..=127.
    Off(KeyNumber, u8),
    /// Controller 0..=119 and its value.
    Control(u8, u8),
    /// Channel mode message 120..=127 and its value.
    Mode(u8, u8),
    /// Program 0..=127.
    Program(u8),
    /// Bend 0..=16,383; [`MIDDLE`] is none.
    Bend(u16),
    /// Pressure: nothing that a left hand listens to.
    Other,
}

impl Short {
    /// `None` unless `bytes` is one whole message of at most three bytes.
    pub fn new(bytes: &[u8]) -> Option<Self> {
        let whole = bytes.first().is_some_and(|&s| length(s) == Some(bytes.len()))
            && bytes.iter().skip(1).all(|&b| b < 0x80);
        whole.then(|| {
            let mut own = [0; 3];
            own.iter_mut().zip(bytes).for_each(|(to, from)| *to = *from);
            Self { bytes: own, len: u8::try_from(bytes.len()).unwrap_or(0) }
        })
    }

    /// Three bytes of a channel message; data is cut to seven bits.
    pub const fn channel_message(kind: u8, channel: u8, one: u8, two: u8) -> Self {
        Self { bytes: [kind & 0xF0 | channel & 0xF, one & 0x7F, two & 0x7F], len: 3 }
    }

    /// Note on.
    pub const fn on(channel: u8, key: KeyNumber, velocity: u8) -> Self {
        Self::channel_message(NOTE_ON, channel, key.number(), velocity)
    }

    /// Note off.
    pub const fn off(channel: u8, key: KeyNumber, velocity: u8) -> Self {
        Self::channel_message(NOTE_OFF, channel, key.number(), velocity)
    }

    /// Program change, 0..=127.
    pub const fn program(channel: u8, program: u8) -> Self {
        Self { bytes: [PROGRAM | channel & 0xF, program & 0x7F, 0], len: 2 }
    }

    /// Pitch bend, 0..=16,383.
    pub const fn bend(channel: u8, to: u16) -> Self {
        Self::channel_message(BEND, channel, (to & 0x7F) as u8, (to >> 7 & 0x7F) as u8)
    }

    /// The channel mode message that ends every note of a channel.
    pub const fn all_notes_off(channel: u8) -> Self {
        Self::channel_message(CONTROL, channel, ALL_NOTES_OFF, 0)
    }

    /// A message of its status byte alone: clock, start, stop …
    pub const fn real_time(status: u8) -> Self {
        Self { bytes: [status, 0, 0], len: 1 }
    }

    /// Song position in sixteenths, at most 16,383.
    pub fn song_position(sixteenths: u32) -> Self {
        let at = sixteenths.min(0x3FFF);
        Self { bytes: [SONG_POSITION, (at & 0x7F) as u8, (at >> 7 & 0x7F) as u8], len: 3 }
    }

    /// As sent.
    pub fn bytes(&self) -> &[u8] {
        self.bytes.get(..usize::from(self.len)).unwrap_or(&[])
    }

    /// As sent, with noughts behind a message of fewer than three bytes.
    pub const fn padded(self) -> [u8; 3] {
        self.bytes
    }

    /// The status byte.
    pub const fn status(self) -> u8 {
        self.bytes[0]
    }

    /// The first data byte, 0 if there is none.
    pub const fn one(self) -> u8 {
        self.bytes[1]
    }

    /// The second data byte, 0 if there is none.
    pub const fn two(self) -> u8 {
        self.bytes[2]
    }

    /// Both data bytes as fourteen bits.
    pub const fn fourteen(self) -> u16 {
        self.bytes[1] as u16 | (self.bytes[2] as u16) << 7
    }

    /// Channel 0..=15 and meaning; `None` for system messages.
    pub fn channel(self) -> Option<(u8, ChannelKind)> {
        let [status, one, two] = self.bytes;
        let key = KeyNumber::clamped(i32::from(one));
        let kind = match status & 0xF0 {
            NOTE_ON if two > 0 => ChannelKind::On(key, two),
            NOTE_ON => ChannelKind::Off(key, 64), // velocity 0: release velocity unknown
            NOTE_OFF => ChannelKind::Off(key, two),
            CONTROL if one >= ALL_SOUND_OFF => ChannelKind::Mode(one, two),
            CONTROL => ChannelKind::Control(one, two),
            PROGRAM => ChannelKind::Program(one),
            BEND => ChannelKind::Bend(self.fourteen()),
            0xA0 | 0xD0 => ChannelKind::Other,
            _ => return None,
        };
        Some((status & 0xF, kind))
    }
}

/// Bytes of the message that `status` starts; `None` for data bytes, system
/// exclusive and undefined status bytes.
pub const fn length(status: u8) -> Option<usize> {
    match status {
        0x80..=0xBF | 0xE0..=0xEF | 0xF2 => Some(3),
        0xC0..=0xDF | 0xF1 | 0xF3 => Some(2),
        0xF6 | 0xF8 | 0xFA..=0xFC | 0xFE | 0xFF => Some(1),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_note_on_with_velocity_0_is_a_note_off() {
        // MIDI 1.0 detailed specification 4.2, "Note-off".
        let heard = Short::new(&[0x93, 60, 0]).and_then(Short::channel);
        assert_eq!(heard, Some((3, ChannelKind::Off(KeyNumber::MIDDLE_C, 64))));
    }

    #[test]
    fn controllers_120_and_above_are_channel_mode_messages() {
        // MIDI 1.0 detailed specification 4.2, "Channel mode messages".
        for (controller, mode) in [(119, false), (120, true), (123, true), (127, true)] {
            let heard = Short::new(&[0xB0, controller, 0]).and_then(Short::channel);
            let is_mode = matches!(heard, Some((0, ChannelKind::Mode(..))));
            assert_eq!(is_mode, mode, "controller {controller}");
        }
    }

    #[test]
    fn what_is_written_is_what_is_read() {
        let struck = Short::on(2, KeyNumber::MIDDLE_C, 90);
        assert_eq!((struck.bytes(), struck.one(), struck.two()), (&[0x92, 60, 90][..], 60, 90));
        assert_eq!(struck.channel(), Some((2, ChannelKind::On(KeyNumber::MIDDLE_C, 90))));
        // Whatever is too large is cut, and never becomes another message.
        let program = Short::program(0x13, 0x85);
        assert_eq!(program.bytes(), [0xC3, 5]);
        assert_eq!(program.channel(), Some((3, ChannelKind::Program(5))));
        assert_eq!(Short::new(&[0xC3, 5]), Some(program));
        for pressure in [&[0xA3, 60, 5][..], &[0xD3, 5]] {
            let heard = Short::new(pressure).and_then(Short::channel);
            assert_eq!(heard, Some((3, ChannelKind::Other)));
        }
    }

    #[test]
    fn song_position_counts_sixteenths_in_fourteen_bits() {
        let message = Short::song_position(300);
        assert_eq!(message.bytes(), [0xF2, 44, 2]); // 300 = 2 * 128 + 44
        assert_eq!(message.fourteen(), 300);
    }

    #[test]
    fn half_a_message_is_none() {
        for bytes in [&[0x90, 60][..], &[0x90, 60, 0x80], &[0xF0, 0xF7], &[60, 1], &[], &[0xF4]] {
            assert_eq!(Short::new(bytes), None, "{bytes:?}");
        }
    }
}
