//! Which control does what, and what a message therefore means.

use arrayvec::ArrayVec;
use serde::{Deserialize, Serialize};

use super::{Action, Trigger};
use crate::bridge::midi::Short;
use crate::bridge::withheld::Withheld;

/// The most controls that can be mapped.
pub const MOST: usize = 64;

/// One control and what it does.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(from = "MappingLine", into = "MappingLine")]
pub struct Mapping {
    /// What it does.
    pub action: Action,
    /// What moves.
    pub trigger: Trigger,
    /// Whether the sound module hears it too.
    pub through: bool,
}

/// A mapping as it is written: all its words side by side.
#[derive(Clone, Copy, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
struct MappingLine {
    #[serde(rename = "do")]
    action: Action,
    key: Option<u8>,
    control: Option<u8>,
    program: Option<u8>,
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    programs: bool,
    channel: Option<u8>,
    #[serde(default = "yes", skip_serializing_if = "Clone::clone")]
    through: bool,
}

fn yes() -> bool {
    true
}

impl From<MappingLine> for Mapping {
    fn from(line: MappingLine) -> Self {
        let MappingLine { action, key, control, program, programs, channel, through } = line;
        Self { action, trigger: Trigger { key, control, program, programs, channel }, through }
    }
}

impl From<Mapping> for MappingLine {
    fn from(mapping: Mapping) -> Self {
        let Trigger { key, control, program, programs, channel } = mapping.trigger;
        let (action, through) = (mapping.action, mapping.through);
        Self { action, key, control, program, programs, channel, through }
    }
}

/// What the player did with a control.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Move {
    /// Pressed it.
    Press,
    /// Put the pedal down (true) or let it up.
    Held(bool),
    /// Turned it to 0..=127.
    Turn(u8),
}

/// Every mapped control. Fixed size; real-time safe.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Map {
    mappings: ArrayVec<(Mapping, bool), MOST>,
}

impl Map {
    /// Of at most [`MOST`] mappings; more are left out.
    pub fn new(mappings: &[Mapping]) -> Self {
        Self { mappings: mappings.iter().take(MOST).map(|m| (*m, false)).collect() }
    }

    /// Adds a mapping; one that moved the same control goes. False if full.
    pub fn learn(&mut self, mapping: Mapping) -> bool {
        self.mappings.retain(|(m, _)| m.trigger != mapping.trigger);
        self.mappings.try_push((mapping, true)).is_ok()
    }

    /// The mappings, in order.
    pub fn iter(&self) -> impl Iterator<Item = &Mapping> {
        self.mappings.iter().map(|(mapping, _)| mapping)
    }

    /// Calls `act` for every mapped control that `message` moves. A press
    /// counts when a control goes up through the middle (64, as for a switch
    /// in MIDI 1.0), not again before it was let go.
    pub fn hear(&mut self, message: Short, mut act: impl FnMut(Action, Move)) {
        for (mapping, down) in &mut self.mappings {
            let Some(value) = mapping.trigger.value(message) else { continue };
            let was_down = *down;
            let is_switch = mapping.trigger.control.is_some();
            *down = if is_switch { value >= 64 } else { value > 0 };
            if mapping.action.is_dial() {
                if is_switch || value > 0 || mapping.trigger.programs {
                    act(mapping.action, Move::Turn(value));
                }
            } else if mapping.action.is_held() && mapping.trigger.is_pedal() {
                if *down != was_down {
                    act(mapping.action, Move::Held(*down));
                }
            } else if *down && (!was_down || mapping.trigger.program.is_some()) {
                act(mapping.action, Move::Press);
            }
        }
    }

    /// Whether `message` moves a control that only the bridge hears.
    pub fn keeps(&self, message: Short) -> bool {
        self.iter().any(|m| !m.through && m.trigger.value(message).is_some())
    }

    /// Keeps from the outputs what is for the bridge alone.
    pub fn withhold(&self, withheld: &Withheld) {
        for mapping in self.iter().filter(|m| !m.through) {
            let Some((kind, number)) = mapping.trigger.withheld() else { continue };
            let channels = mapping.trigger.channel.map_or(0..16, |c| c - 1..c);
            for channel in channels {
                match number {
                    Some(number) => withheld.set(kind, channel, number, true),
                    None => (0..128).for_each(|n| withheld.set(kind, channel, n, true)),
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn map(lines: &[&str]) -> Map {
        let mappings: Vec<Mapping> =
            lines.iter().map(|line| toml::from_str(line).expect(line)).collect();
        Map::new(&mappings)
    }

    fn moves(map: &mut Map, messages: &[[u8; 3]]) -> Vec<(Action, Move)> {
        let mut moves = Vec::new();
        for message in messages {
            let message = Short::new(message).or_else(|| Short::new(&message[..2]));
            map.hear(message.expect("a message"), |action, m| moves.push((action, m)));
        }
        moves
    }

    #[test]
    fn a_pedal_presses_once_each_time_it_goes_down() {
        let mut map = map(&["do = \"tap\"\ncontrol = 66"]);
        let pedal =
            [[0xB0, 66, 20], [0xB0, 66, 90], [0xB0, 66, 127], [0xB0, 66, 0], [0xB3, 66, 64]];
        assert_eq!(moves(&mut map, &pedal), [(Action::Tap, Move::Press); 2]);
    }

    #[test]
    fn hold_acts_while_a_pedal_is_down_and_changes_with_each_press_of_a_pad() {
        let mut map =
            map(&["do = \"hold\"\ncontrol = 67", "do = \"hold\"\nkey = 36\nchannel = 10"]);
        let played =
            [[0xB0, 67, 127], [0xB0, 67, 0], [0x99, 36, 100], [0x89, 36, 0], [0x90, 36, 100]];
        assert_eq!(
            moves(&mut map, &played),
            [Move::Held(true), Move::Held(false), Move::Press].map(|m| (Action::Hold, m))
        );
    }

    #[test]
    fn a_program_change_chooses_an_entry() {
        let mut map = map(&["do = \"entry\"\nprograms = true", "do = \"panic\"\nprogram = 128"]);
        assert_eq!(
            moves(&mut map, &[[0xC0, 0, 0], [0xC5, 127, 0], [0xC5, 127, 0]]),
            [
                (Action::Entry, Move::Turn(0)),
                (Action::Entry, Move::Turn(127)),
                (Action::Panic, Move::Press),
                (Action::Entry, Move::Turn(127)),
                (Action::Panic, Move::Press),
            ]
        );
    }

    #[test]
    fn a_learned_control_does_one_thing() {
        let mut map = map(&["do = \"tap\"\nkey = 36\nchannel = 10"]);
        let trigger = Trigger::of(Short::channel_message(0x90, 9, 36, 1)).expect("a key");
        map.learn(Mapping { action: Action::Panic, trigger, through: true });
        assert_eq!(moves(&mut map, &[[0x99, 36, 1]]), []); // still down from learning
        assert_eq!(
            moves(&mut map, &[[0x89, 36, 1], [0x99, 36, 1]]),
            [(Action::Panic, Move::Press)]
        );
    }
}
