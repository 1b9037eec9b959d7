//! Cuts a stream of MIDI bytes into whole messages.

use sinistra_core::midi::length;

/// The longest system exclusive message that is kept, in bytes.
pub const LONGEST: usize = 1 << 20;

/// Reads bytes as they come: running status, real-time bytes anywhere,
/// system exclusive of any length up to 1 MiB.
///
/// Source: The Complete MIDI 1.0 Detailed Specification 96.1, section 2,
/// "Data format", and appendix 2 "Running status".
#[derive(Debug, Default)]
pub struct Stream {
    /// Status of the message being read; 0 for none.
    status: u8,
    data: [u8; 2],
    have: usize,
    exclusive: Vec<u8>,
    in_exclusive: bool,
}

impl Stream {
    /// Reads `bytes`; tells `each` of every whole message, in order. A
    /// real-time message inside another comes before it, as on the cable.
    pub fn read(&mut self, bytes: &[u8], mut each: impl FnMut(&[u8])) {
        // The usual case, one whole message in one piece: not copied.
        if !self.in_exclusive && is_whole(bytes) {
            if let Some(&status) = bytes.first() {
                self.remember(status);
            }
            return each(bytes);
        }
        for &byte in bytes {
            self.byte(byte, &mut each);
        }
    }

    fn byte(&mut self, byte: u8, each: &mut impl FnMut(&[u8])) {
        match byte {
            0xF8.. => {
                if length(byte).is_some() {
                    each(&[byte]); // leaves running status and exclusive alone
                }
            }
            0xF0 => {
                self.status = 0;
                self.in_exclusive = true;
                self.exclusive.clear();
                self.exclusive.push(byte);
            }
            0xF7 if self.in_exclusive => {
                self.in_exclusive = false;
                if self.exclusive.len() < LONGEST {
                    self.exclusive.push(byte);
                    each(&self.exclusive);
                }
                self.exclusive.clear();
            }
            0x80.. => {
                self.in_exclusive = false; // any other status ends it unfinished
                self.exclusive.clear();
                self.status = if length(byte).is_some() { byte } else { 0 };
                self.have = 0;
                self.give_if_whole(each);
            }
            _ if self.in_exclusive => {
                if self.exclusive.len() < LONGEST {
                    self.exclusive.push(byte);
                }
            }
            _ if self.status == 0 => {} // data without a status: lost before us
            _ => {
                if let Some(place) = self.data.get_mut(self.have) {
                    *place = byte;
                    self.have += 1;
                }
                self.give_if_whole(each);
            }
        }
    }

    fn give_if_whole(&mut self, each: &mut impl FnMut(&[u8])) {
        let Some(length) = length(self.status) else { return };
        if self.have + 1 == length {
            let message = [self.status, self.data[0], self.data[1]];
            each(message.get(..length).unwrap_or(&[]));
            self.have = 0;
            self.remember(self.status);
        }
    }

    /// Channel messages run on; system common ends running status, real time
    /// does not touch it.
    fn remember(&mut self, status: u8) {
        match status {
            0x80..=0xEF => (self.status, self.have) = (status, 0),
            0xF0..=0xF7 => self.status = 0,
            _ => {}
        }
    }
}

fn is_whole(bytes: &[u8]) -> bool {
    match *bytes {
        [0xF0, ref middle @ .., 0xF7] => middle.iter().all(|&b| b < 0x80),
        [status, ref data @ ..] => {
            length(status) == Some(bytes.len()) && data.iter().all(|&b| b < 0x80)
        }
        [] => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(pieces: &[&[u8]]) -> Vec<Vec<u8>> {
        let mut stream = Stream::default();
        let mut messages = Vec::new();
        for piece in pieces {
            stream.read(piece, |m| messages.push(m.to_vec()));
        }
        messages
    }

    #[test]
    fn running_status_is_written_out() {
        // MIDI 1.0 detailed specification, section 2: a status byte holds
        // until another comes.
        assert_eq!(
            read(&[&[0x90, 60, 100, 64, 90], &[67], &[80]]),
            [[0x90, 60, 100], [0x90, 64, 90], [0x90, 67, 80]]
        );
    }

    #[test]
    fn real_time_may_come_inside_any_message() {
        assert_eq!(
            read(&[&[0x90, 60, 0xF8, 100, 0xF0, 1, 0xFE, 2, 0xF7]]),
            [&[0xF8][..], &[0x90, 60, 100], &[0xFE], &[0xF0, 1, 2, 0xF7]]
        );
    }

    #[test]
    fn system_common_ends_running_status_and_real_time_does_not() {
        assert_eq!(read(&[&[0x90, 60, 1, 0xF6, 61, 1]]), [&[0x90, 60, 1][..], &[0xF6]]);
        assert_eq!(
            read(&[&[0x90, 60, 1, 0xFA, 61, 1]]),
            [&[0x90, 60, 1][..], &[0xFA], &[0x90, 61, 1]]
        );
    }

    #[test]
    fn an_exclusive_ends_running_status_whole_or_in_pieces() {
        // MIDI 1.0 detailed specification, appendix 2, "Running status".
        let told = [&[0x90, 60, 1][..], &[0xF0, 0x7D, 0xF7]];
        assert_eq!(read(&[&[0x90, 60, 1, 0xF0, 0x7D, 0xF7, 61, 1]]), told);
        assert_eq!(read(&[&[0x90, 60, 1], &[0xF0, 0x7D, 0xF7], &[61, 1]]), told);
    }

    #[test]
    fn exclusive_comes_in_any_pieces_and_ends_at_any_status() {
        assert_eq!(read(&[&[0xF0, 0x7D], &[1, 2], &[3, 0xF7]]), [[0xF0, 0x7D, 1, 2, 3, 0xF7]]);
        assert_eq!(read(&[&[0xF0, 0x7D, 1], &[0x90, 60, 1]]), [[0x90, 60, 1]]);
    }

    #[test]
    fn undefined_status_bytes_and_lost_beginnings_are_dropped() {
        assert_eq!(read(&[&[1, 2, 3, 0xF4, 7, 0xFD, 0xF9, 0xC0, 5]]), [[0xC0, 5]]);
    }
}
