//! Settings under the hands: what a dial or pedal makes of the engine's.

use serde::{Deserialize, Serialize};
use sinistra_core::engine::Settings;
use sinistra_core::maths;

use crate::bridge::controls::Action;

/// What the left hand does.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default, Serialize, Deserialize, clap::ValueEnum)]
#[serde(rename_all = "kebab-case")]
pub enum LeftHandWork {
    /// Plays the pattern.
    #[default]
    Plays,
    /// Plays roots on the beat only.
    Roots,
    /// Rests.
    Rests,
}

impl LeftHandWork {
    /// The next of the three.
    pub const fn next(self) -> Self {
        match self {
            Self::Plays => Self::Roots,
            Self::Roots => Self::Rests,
            Self::Rests => Self::Plays,
        }
    }
}

/// Slowest and fastest that a dial reaches, quarter notes a minute.
const TEMPO: (f64, f64) = (40.0, 240.0);

/// Sets what `action` turns to `value` (0..=127) of its range; gives the new
/// value in its unit. Ranges are those of [`Settings`]. `None` if it turns
/// nothing there (the tempo is given back for the caller to set).
pub fn turn(settings: &mut Settings, action: Action, value: u8) -> Option<f64> {
    let part = f64::from(value.min(127)) / 127.0;
    let between = |low: f64, high: f64| low + (high - low) * part;
    let set = |place: &mut f32, low: f64, high: f64| {
        *place = maths::single(between(low, high));
        Some(f64::from(*place))
    };
    match action {
        Action::Tempo => Some(between(TEMPO.0, TEMPO.1).round()),
        Action::Busy | Action::Variety => {
            let place = match action {
                Action::Busy => &mut settings.busy,
                _ => &mut settings.variety,
            };
            *place = u8::try_from(maths::frames((part * 100.0).round())).unwrap_or(100);
            Some(f64::from(*place))
        }
        Action::Swing => set(&mut settings.swing, 0.5, 0.75),
        Action::Length => set(&mut settings.length, 0.1, 1.0),
        Action::Loose => set(&mut settings.loose, 0.0, 1.0),
        Action::Loudness => set(&mut settings.loudness, 0.2, 1.5),
        Action::Window => set(&mut settings.window_ms, 0.0, 150.0),
        Action::Certainty => set(&mut settings.certainty, 0.0, 1.0),
        _ => None,
    }
}
