//! Everything a player may set, as one table: name, group, range, text.

mod set_up_file;
mod set_ups;
mod table;
mod text;

pub use set_up_file::{OwnSetUp, own_set_ups};
pub use set_ups::{SET_UPS, SetUp};
pub use table::{ALL, Control};

use sinistra_core::engine::{KeyChoice, Settings};
use sinistra_core::key::{Key, Mode};
use sinistra_core::pitch::{KeyNumber, PitchClass};

sinistra_core::named! {
    /// A part of the window and of the host's list, by what it is about.
    #[derive(Clone, Copy, Debug, PartialEq, Eq)]
    #[allow(missing_docs, reason = "their names say it")]
    pub enum Group {
        Playing = "Playing",
        Hand = "Hand",
        Touch = "Touch",
        Foresight = "Foresight",
        Routing = "Routing",
        Clock = "Clock",
    }
    /// As hosts and the window show it.
    name
}

/// How the whole number of a control is to be read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ControlScale {
    /// Off 0, on 1.
    Switch,
    /// A number with its unit, such as `85 %`; the unit may be empty.
    Number(&'static str),
    /// Quarter notes; 0 is off.
    Beats,
    /// A key of the keyboard, such as `C4`.
    KeyNumber,
    /// 0 from the music, 1..=12 C major to B major, 13..=24 C minor to B minor.
    Key,
    /// 0 as the right hand's, 1..=16.
    Channel,
    /// 0 the player's own, then the presets by their fixed number.
    Pattern,
}

impl ControlScale {
    /// Whether its values have names, and no order that a slider would show.
    pub const fn is_list(self) -> bool {
        matches!(self, Self::Switch | Self::Beats | Self::Key | Self::Channel | Self::Pattern)
    }
}

/// What is known of a control before anybody has set it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Spec {
    /// Never changes once published: hosts and projects keep it. At most six letters.
    pub id: &'static str,
    /// In plain words.
    pub name: &'static str,
    /// The same for a narrow display: eight letters at the most.
    pub short: &'static str,
    /// A line of help.
    pub help: &'static str,
    /// Where it belongs.
    pub group: Group,
    /// Lowest value.
    pub min: i32,
    /// Highest value.
    pub max: i32,
    /// At first.
    pub default: i32,
    /// How to read and write it.
    pub scale: ControlScale,
}

impl Spec {
    /// The nearest value that the control can take.
    pub fn clamp(&self, value: i32) -> i32 {
        value.clamp(self.min, self.max)
    }
}

/// A value for every control.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Values([i32; ALL.len()]);

impl Default for Values {
    fn default() -> Self {
        Self(ALL.map(|control| control.spec().default))
    }
}

impl Values {
    /// Reads every control through `value`. Real-time safe if `value` is.
    pub fn read(value: impl Fn(Control) -> i32) -> Self {
        Self(ALL.map(|control| control.spec().clamp(value(control))))
    }

    /// The value of `control`.
    pub fn get(&self, control: Control) -> i32 {
        // The table has a place for every control; the fallback never shows.
        self.0.get(control as usize).copied().unwrap_or_default()
    }

    /// Sets `control` to the nearest value that it can take.
    pub fn set(&mut self, control: Control, value: i32) {
        if let Some(place) = self.0.get_mut(control as usize) {
            *place = control.spec().clamp(value);
        }
    }

    /// Whether a switch is on.
    pub fn on(&self, control: Control) -> bool {
        self.get(control) != 0
    }

    /// What the engine makes of it. Real-time safe.
    pub fn settings(&self) -> Settings {
        let percent = |control| self.get(control) as f32 / 100.0;
        let key = |control| KeyNumber::clamped(self.get(control));
        let (low, high) = (key(Control::Lowest), key(Control::Highest));
        Settings {
            plays: self.on(Control::Plays),
            split: key(Control::Split),
            busy: self.get(Control::Busy).clamp(0, 100) as u8,
            variety: self.get(Control::Variety).clamp(0, 100) as u8,
            swing: percent(Control::Swing),
            length: percent(Control::Length),
            loudness: percent(Control::Loudness),
            loose: percent(Control::Loose),
            pedal: self.on(Control::Pedal),
            lowest: low.min(high),
            highest: low.max(high),
            reach: self.get(Control::Reach).clamp(0, 127) as u8,
            window_ms: self.get(Control::Wait) as f32,
            certainty: percent(Control::Certainty),
            key: key_choice(self.get(Control::Key)),
            channel: u8::try_from(self.get(Control::Channel) - 1).ok(),
            seed: self.get(Control::Variation).unsigned_abs().into(),
            hold_bars: self.get(Control::Hold).clamp(0, 255) as u8,
        }
    }
}

/// 0 from the music, 1..=12 the major keys from C, 13..=24 the minor keys.
fn key_choice(value: i32) -> KeyChoice {
    let mode = if value <= 12 { Mode::Major } else { Mode::Minor };
    match value {
        1..=24 => KeyChoice::Fixed(Key { tonic: PitchClass::new(value - 1), mode }),
        _ => KeyChoice::Auto,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_nobody_has_touched_is_the_engines_own_default() {
        assert_eq!(Values::default().settings(), Settings::default());
    }

    #[test]
    fn a_range_upside_down_is_turned_over() {
        let mut values = Values::default();
        values.set(Control::Lowest, 70);
        let settings = values.settings();
        assert!(settings.lowest < settings.highest);
    }
}
