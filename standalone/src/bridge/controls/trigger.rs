//! What moves: a key, a controller or a program, on one channel or any.

use super::Action;
use crate::bridge::midi::{ChannelKind, Short};
use crate::bridge::withheld::WithheldKind;

pub const NUMBERS: &str =
    "keys are 0 to 127, controls 0 to 119, programs 1 to 128, channels 1 to 16";

/// A control on an instrument.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Trigger {
    /// A key or pad, by its MIDI key number.
    pub key: Option<u8>,
    /// A dial, slider, switch or pedal, by its controller number.
    pub control: Option<u8>,
    /// A program change, counted from 1.
    pub program: Option<u8>,
    /// Any program change; its number is the value.
    pub programs: bool,
    /// The MIDI channel, 1..=16; any if it is not said.
    pub channel: Option<u8>,
}

impl Trigger {
    /// The trigger that `message` moves, for learning: a key that is struck,
    /// a controller, a program. `None` for anything else.
    pub fn of(message: Short) -> Option<Self> {
        let none = Self { key: None, control: None, program: None, programs: false, channel: None };
        let (channel, kind) = message.channel()?;
        let channel = Some(channel + 1);
        match kind {
            ChannelKind::On(key, _) => Some(Self { key: Some(key.number()), channel, ..none }),
            ChannelKind::Control(control, _) => {
                Some(Self { control: Some(control), channel, ..none })
            }
            ChannelKind::Program(number) => {
                Some(Self { program: Some(number + 1), channel, ..none })
            }
            _ => None,
        }
    }

    /// The trigger that `message` teaches for `action`. `None` if it cannot
    /// do that (a key has no values for a dial), comes up instead of going
    /// down, or is sent by instruments beside what the hand moves: bank select
    /// before a program, and parameter numbers (MIDI 1.0, controllers 0, 32
    /// and 98 to 101).
    pub fn learned(action: Action, message: Short) -> Option<Self> {
        let (_, kind) = message.channel()?;
        let of = Self::of(message);
        match kind {
            ChannelKind::Control(0 | 32 | 98..=101, _) | ChannelKind::Control(_, 0) => None,
            ChannelKind::Program(_) if action == Action::Entry => {
                of.map(|trigger| Self { program: None, programs: true, ..trigger })
            }
            ChannelKind::Program(_) | ChannelKind::On(..) if action.is_dial() => None,
            _ => of,
        }
    }

    /// What is wrong with it, if anything.
    pub fn fault(self) -> Option<String> {
        let named =
            [self.key.is_some(), self.control.is_some(), self.program.is_some(), self.programs];
        let numbers = [self.key, self.control].into_iter().flatten().all(|n| n < 128)
            && self.control.is_none_or(|n| n < 120)
            && self.program.is_none_or(|n| (1..=128).contains(&n))
            && self.channel.is_none_or(|n| (1..=16).contains(&n));
        if named.iter().filter(|&&n| n).count() != 1 {
            Some("name one of key, control, program or programs".into())
        } else if !numbers {
            Some(NUMBERS.into())
        } else {
            None
        }
    }

    /// The value that `message` gives it: 0 when it is let go. `None` if the
    /// message is not its.
    pub fn value(self, message: Short) -> Option<u8> {
        let (channel, kind) = message.channel()?;
        if self.channel.is_some_and(|own| own != channel + 1) {
            return None;
        }
        match kind {
            ChannelKind::On(key, velocity) if self.key == Some(key.number()) => Some(velocity),
            ChannelKind::Off(key, _) if self.key == Some(key.number()) => Some(0),
            ChannelKind::Control(control, value) if self.control == Some(control) => Some(value),
            ChannelKind::Program(n) if self.program == Some(n + 1) => Some(127),
            ChannelKind::Program(n) if self.programs => Some(n),
            _ => None,
        }
    }

    /// Whether it comes up again after it went down.
    pub const fn is_pedal(self) -> bool {
        self.control.is_some()
    }

    /// Kind and number for the list of what is withheld; all programs have
    /// no number.
    pub fn withheld(self) -> Option<(WithheldKind, Option<u8>)> {
        match self {
            Self { key: Some(key), .. } => Some((WithheldKind::Key, Some(key))),
            Self { control: Some(control), .. } => Some((WithheldKind::Control, Some(control))),
            Self { program: Some(number), .. } => {
                Some((WithheldKind::Program, Some(number.saturating_sub(1))))
            }
            Self { programs: true, .. } => Some((WithheldKind::Program, None)),
            _ => None,
        }
    }
}

impl std::fmt::Display for Trigger {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self { key: Some(n), .. } => write!(f, "key {n}")?,
            Self { control: Some(n), .. } => write!(f, "control {n}")?,
            Self { program: Some(n), .. } => write!(f, "program {n}")?,
            _ => write!(f, "any program")?,
        }
        match self.channel {
            Some(channel) => write!(f, " on channel {channel}"),
            None => write!(f, " on any channel"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_moves_is_learned_and_what_comes_beside_it_is_not() {
        let learned = |action, message: &[u8]| {
            let message = Short::new(message).expect("a message");
            Trigger::learned(action, message).map(|trigger| trigger.to_string())
        };
        let on_1 = |text: &str| Some(format!("{text} on channel 1"));
        for (action, message, expected) in [
            (Action::Tap, &[0x90, 36, 90][..], on_1("key 36")),
            (Action::Tap, &[0xB0, 66, 127], on_1("control 66")),
            (Action::Tap, &[0xC0, 4], on_1("program 5")), // as players count
            (Action::Busy, &[0xB0, 21, 64], on_1("control 21")),
            (Action::Entry, &[0xC0, 4], on_1("any program")),
            (Action::Entry, &[0xB0, 22, 3], on_1("control 22")),
            // A key or a program has no values for a dial.
            (Action::Busy, &[0x90, 36, 90], None),
            (Action::Busy, &[0xC0, 4], None),
            (Action::Entry, &[0x90, 36, 90], None),
            // Bank select comes before a program that the player chose.
            (Action::Entry, &[0xB0, 0, 1], None),
            (Action::Entry, &[0xB0, 32, 1], None),
            // A parameter's number comes before its value.
            (Action::Busy, &[0xB0, 101, 1], None),
            // A pedal that comes up, pressure, and real time teach nothing.
            (Action::Tap, &[0xB0, 66, 0], None),
            (Action::Tap, &[0x80, 36, 90], None),
            (Action::Tap, &[0xD0, 90], None),
            (Action::Tap, &[0xF8], None),
        ] {
            assert_eq!(learned(action, message), expected, "{action:?} {message:?}");
        }
    }
}
