//! What is kept from the outputs, because it is a control for us alone.

use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

use super::intake::is_clock;

/// A bit for every key, controller and program of every channel. Written in
/// the free world when the controls change, read wait-free for each message.
pub struct Withheld {
    /// Sixteen channels of 128 bits, for notes, controllers and programs.
    bits: [AtomicU64; 3 * 16 * 2],
    /// MIDI clock, while a clock of our own goes out.
    clock: AtomicBool,
    any: AtomicBool,
}

/// What a bit stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs, reason = "their names say it")]
pub enum WithheldKind {
    Key = 0,
    Control = 1,
    Program = 2,
}

impl Default for Withheld {
    fn default() -> Self {
        Self {
            bits: [const { AtomicU64::new(0) }; 96],
            clock: AtomicBool::new(false),
            any: AtomicBool::new(false),
        }
    }
}

impl Withheld {
    /// Keeps or lets go one number (0..=127) on `channel` (0..=15).
    pub fn set(&self, kind: WithheldKind, channel: u8, number: u8, kept: bool) {
        let (word, bit) = place(kind, channel, number);
        if let Some(word) = self.bits.get(word) {
            if kept {
                word.fetch_or(bit, Ordering::Relaxed);
                self.any.store(true, Ordering::Release);
            } else {
                word.fetch_and(!bit, Ordering::Relaxed);
            }
        }
    }

    /// Keeps or lets go MIDI clock.
    pub fn set_clock(&self, kept: bool) {
        self.clock.store(kept, Ordering::Relaxed);
        if kept {
            self.any.store(true, Ordering::Release);
        }
    }

    /// Whether `message` must not go out.
    pub fn has(&self, message: &[u8]) -> bool {
        if !self.any.load(Ordering::Acquire) {
            return false;
        }
        let (Some(&status), number) = (message.first(), message.get(1).copied().unwrap_or(0))
        else {
            return false;
        };
        let kind = match status & 0xF0 {
            0x80..=0xA0 => WithheldKind::Key,
            0xB0 => WithheldKind::Control,
            0xC0 => WithheldKind::Program,
            0xF0 => return self.clock.load(Ordering::Relaxed) && is_clock(message),
            _ => return false,
        };
        let (word, bit) = place(kind, status & 0xF, number);
        self.bits.get(word).is_some_and(|word| word.load(Ordering::Relaxed) & bit != 0)
    }
}

fn place(kind: WithheldKind, channel: u8, number: u8) -> (usize, u64) {
    let number = usize::from(number & 0x7F);
    let word = (kind as usize * 16 + usize::from(channel & 0xF)) * 2 + number / 64;
    (word, 1 << (number % 64))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_kept_key_keeps_its_note_off_and_its_pressure_too() {
        let kept = Withheld::default();
        kept.set(WithheldKind::Key, 9, 64, true);
        for message in [[0x99, 64, 1], [0x89, 64, 1], [0xA9, 64, 1]] {
            assert!(kept.has(&message), "{message:?}");
        }
        for message in [[0x90, 64, 1], [0x99, 63, 1], [0xB9, 64, 1], [0xE9, 64, 1]] {
            assert!(!kept.has(&message), "{message:?}");
        }
    }

    #[test]
    fn only_clock_is_kept_of_the_real_time_messages() {
        let kept = Withheld::default();
        kept.set_clock(true);
        for (message, is_kept) in [
            (&[0xF8][..], true),
            (&[0xFA], true),
            (&[0xFC], true),
            (&[0xF2, 0, 0], true),
            (&[0xFE], false),
            (&[0xFF], false),
            (&[0xF0, 1, 0xF7], false),
        ] {
            assert_eq!(kept.has(message), is_kept, "{message:?}");
        }
    }
}
