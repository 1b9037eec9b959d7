//! Which keys of one keyboard are down or held by a pedal.

use super::mode::ChannelMode;
use super::short::{SOSTENUTO, SUSTAIN};
use crate::pitch::KeyNumber;

/// The keyboard with its pedals; bit n of a set is key n. Real-time safe.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct HeldKeys {
    down: u128,
    /// Sound on by the sustain pedal after their key came up.
    sustained: u128,
    /// Caught by the sostenuto pedal when it fell.
    caught: u128,
    sustain: bool,
    sostenuto: bool,
}

const fn bit(key: KeyNumber) -> u128 {
    1 << (key.number() & 127)
}

impl HeldKeys {
    /// A key goes down.
    pub fn press(&mut self, key: KeyNumber) {
        self.down |= bit(key);
    }

    /// A key comes up.
    pub fn release(&mut self, key: KeyNumber) {
        if self.sustain {
            self.sustained |= self.down & bit(key);
        }
        self.down &= !bit(key);
    }

    /// A pedal moves, or a channel mode message arrives; others do nothing.
    pub fn control(&mut self, controller: u8, value: u8) {
        match controller {
            SUSTAIN => {
                self.sustain = value >= 64;
                if !self.sustain {
                    self.sustained = 0;
                }
            }
            SOSTENUTO => {
                let falls = value >= 64 && !self.sostenuto;
                self.sostenuto = value >= 64;
                if falls {
                    self.caught = self.down;
                } else if !self.sostenuto {
                    self.caught = 0;
                }
            }
            _ => {
                if let Some(mode) = ChannelMode::of(controller) {
                    self.mode(mode);
                }
            }
        }
    }

    fn mode(&mut self, mode: ChannelMode) {
        if mode.ends_sound() {
            self.clear();
        } else if mode.ends_keys() {
            if self.sustain {
                self.sustained |= self.down; // the pedal still holds
            }
            self.down = 0;
        } else if mode.lifts_pedals() {
            *self = Self { down: self.down, ..Self::default() };
        }
    }

    /// Nothing is down or held; the pedals stay where they are.
    pub fn clear(&mut self) {
        self.down = 0;
        self.sustained = 0;
        self.caught = 0;
    }

    /// Keys that are down.
    pub const fn down(&self) -> u128 {
        self.down
    }

    /// Keys that are down or held by a pedal.
    pub const fn sounding(&self) -> u128 {
        self.down | self.sustained | self.caught
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn key(n: u8) -> KeyNumber {
        KeyNumber::clamped(n.into())
    }

    #[test]
    fn the_sustain_pedal_holds_what_is_released_under_it() {
        let mut held = HeldKeys::default();
        held.press(key(60));
        held.control(64, 127);
        held.release(key(60));
        held.press(key(62));
        assert_eq!(held.sounding(), 1 << 60 | 1 << 62);
        held.control(64, 0);
        assert_eq!(held.sounding(), 1 << 62);
    }

    #[test]
    fn a_key_that_a_pedal_holds_may_be_struck_again_and_one_that_is_up_may_not_sound() {
        let mut held = HeldKeys::default();
        held.press(key(60));
        held.control(66, 127);
        held.control(64, 127);
        held.press(key(62));
        held.release(key(62));
        held.press(key(62));
        held.release(key(60));
        held.release(key(61));
        assert_eq!(held.sounding(), 1 << 60 | 1 << 62);
    }

    #[test]
    fn a_sostenuto_pedal_that_moves_while_it_is_down_catches_no_more() {
        let mut held = HeldKeys::default();
        held.control(66, 127);
        held.press(key(60));
        held.control(66, 100);
        held.release(key(60));
        assert_eq!(held.sounding(), 0);
    }

    #[test]
    fn the_sostenuto_pedal_holds_only_what_was_down_when_it_fell() {
        let mut held = HeldKeys::default();
        held.press(key(60));
        held.control(66, 127);
        held.press(key(64));
        held.release(key(60));
        held.release(key(64));
        assert_eq!(held.sounding(), 1 << 60);
        held.control(66, 0);
        assert_eq!(held.sounding(), 0);
    }

    #[test]
    fn modes_do_what_their_table_says() {
        // Down, sounding, and sounding once 61 is struck and let go.
        for (controller, expected) in [
            (120, (0, 0, 1 << 61)),
            (121, (1 << 62, 1 << 62, 1 << 62)),
            (122, (1 << 62, 1 << 60 | 1 << 62, 7 << 60)),
            (123, (0, 1 << 60 | 1 << 62, 7 << 60)),
            (124, (0, 1 << 60 | 1 << 62, 7 << 60)),
            (127, (0, 1 << 60 | 1 << 62, 7 << 60)),
        ] {
            let mut held = HeldKeys::default();
            held.press(key(60));
            held.control(64, 127);
            held.release(key(60));
            held.press(key(62));
            held.control(controller, 0);
            let now = (held.down(), held.sounding());
            held.press(key(61));
            held.release(key(61));
            assert_eq!((now.0, now.1, held.sounding()), expected, "{controller}");
        }
    }

    #[test]
    fn all_notes_off_respects_the_pedal_and_all_sound_off_does_not() {
        let mut held = HeldKeys::default();
        held.press(key(60));
        held.control(64, 127);
        held.control(123, 0);
        assert_eq!((held.down(), held.sounding()), (0, 1 << 60));
        held.control(120, 0);
        assert_eq!(held.sounding(), 0);
    }
}
