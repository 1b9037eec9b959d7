//! Which keys are down or held by a pedal.

use crate::pitch::KeyNumber;

/// Sustain pedal (MIDI 1.0 controller 64); on from value 64.
const SUSTAIN: u8 = 64;
/// Sostenuto pedal (controller 66): holds the keys that were down when it fell.
const SOSTENUTO: u8 = 66;
/// Channel mode messages (MIDI 1.0): all sound off, reset all controllers,
/// all notes off; 124..=127 imply all notes off.
const ALL_SOUND_OFF: u8 = 120;
const RESET_CONTROLLERS: u8 = 121;
const ALL_NOTES_OFF: u8 = 123;

/// The keyboard with its pedals; bit n of a set is key n. Real-time safe.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Held {
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

impl Held {
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
            ALL_SOUND_OFF => self.clear(),
            RESET_CONTROLLERS => {
                self.sustain = false;
                self.sostenuto = false;
                self.sustained = 0;
                self.caught = 0;
            }
            ALL_NOTES_OFF..=127 => {
                // As if every key came up: the pedals still hold.
                if self.sustain {
                    self.sustained |= self.down;
                }
                self.down = 0;
            }
            _ => {}
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
        let mut held = Held::default();
        held.press(key(60));
        held.control(64, 127);
        held.release(key(60));
        held.press(key(62));
        assert_eq!(held.sounding(), 1 << 60 | 1 << 62);
        held.control(64, 0);
        assert_eq!(held.sounding(), 1 << 62);
    }

    #[test]
    fn the_sostenuto_pedal_holds_only_what_was_down_when_it_fell() {
        let mut held = Held::default();
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
    fn all_notes_off_respects_the_pedal_and_all_sound_off_does_not() {
        let mut held = Held::default();
        held.press(key(60));
        held.control(64, 127);
        held.control(123, 0);
        assert_eq!((held.down(), held.sounding()), (0, 1 << 60));
        held.control(120, 0);
        assert_eq!(held.sounding(), 0);
    }
}
