//! System exclusive messages, carried through by a small handle.
//!
//! The framework copies events by value, so a message that held its bytes
//! would make every note as big as the longest message. The bytes wait in a
//! shared pool of fixed slots instead; a message that finds none free, or is
//! longer than a slot, is dropped.

use std::fmt;
use std::sync::atomic::{AtomicU8, AtomicU16, AtomicUsize, Ordering};

use nice_plug::prelude::SysExMessage;

/// The longest message that passes, in bytes, with its first F0 and last F7.
pub const LONGEST: usize = 4096;
/// Messages that may be under way at once in the whole process.
const SLOTS: usize = 64;

struct SysexSlot {
    /// Handles that point here; 0 is free.
    holders: AtomicU16,
    length: AtomicUsize,
    bytes: [AtomicU8; LONGEST],
}

static POOL: [SysexSlot; SLOTS] = [const {
    SysexSlot {
        holders: AtomicU16::new(0),
        length: AtomicUsize::new(0),
        bytes: [const { AtomicU8::new(0) }; LONGEST],
    }
}; SLOTS];

/// A system exclusive message on its way through.
pub struct Passing(&'static SysexSlot);

impl Passing {
    /// Takes a slot; `None` for anything but a whole system exclusive message
    /// (clocks, active sensing and song position are the host's to give).
    fn take(message: &[u8]) -> Option<Self> {
        let whole = message.first() == Some(&0xF0) && message.last() == Some(&0xF7);
        if !whole || message.len() > LONGEST {
            return None;
        }
        let free = |slot: &&SysexSlot| {
            slot.holders.compare_exchange(0, 1, Ordering::Acquire, Ordering::Relaxed).is_ok()
        };
        let slot = POOL.iter().find(free)?;
        slot.length.store(message.len(), Ordering::Relaxed);
        for (place, byte) in slot.bytes.iter().zip(message) {
            place.store(*byte, Ordering::Relaxed);
        }
        Some(Self(slot))
    }

    fn bytes(&self) -> impl Iterator<Item = u8> + '_ {
        let length = self.0.length.load(Ordering::Relaxed);
        self.0.bytes.iter().take(length).map(|byte| byte.load(Ordering::Relaxed))
    }
}

impl Clone for Passing {
    fn clone(&self) -> Self {
        self.0.holders.fetch_add(1, Ordering::Relaxed);
        Self(self.0)
    }
}

impl Drop for Passing {
    fn drop(&mut self) {
        self.0.holders.fetch_sub(1, Ordering::Release);
    }
}

impl PartialEq for Passing {
    fn eq(&self, other: &Self) -> bool {
        self.bytes().eq(other.bytes())
    }
}

impl fmt::Debug for Passing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_list().entries(self.bytes()).finish()
    }
}

impl SysExMessage for Passing {
    type Buffer = [u8; LONGEST];

    fn from_buffer(buffer: &[u8]) -> Option<Self> {
        Self::take(buffer)
    }

    fn as_buffer(&self) -> (Self::Buffer, usize) {
        let mut buffer = [0; LONGEST];
        let mut length = 0;
        for (place, byte) in buffer.iter_mut().zip(self.bytes()) {
            *place = byte;
            length += 1;
        }
        (buffer, length)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_message_comes_out_as_it_went_in_and_its_slot_is_free_again() {
        let mut longest = vec![0xF0];
        longest.resize(LONGEST - 1, 0x55);
        longest.push(0xF7);
        for message in [&[0xF0, 0x7E, 0x7F, 0x09, 0x01, 0xF7][..], &longest] {
            for _ in 0..3 * SLOTS {
                let passing = Passing::from_buffer(message).expect("a free slot");
                let (buffer, length) = passing.clone().as_buffer();
                assert_eq!(&buffer[..length], message);
            }
        }
    }

    #[test]
    fn clocks_do_not_pass_as_messages() {
        for message in [&[0xF8, 0, 0][..], &[0xFA], &[0xF2, 1, 2], &[0xF0, 1], &[]] {
            assert_eq!(Passing::from_buffer(message), None, "{message:02X?}");
        }
    }
}
