//! The metronome: which pulse clicks, and how.

use clap::ValueEnum;
use serde::{Deserialize, Serialize};
use sinistra_core::maths;
use sinistra_core::time::Metre;

/// When the metronome is heard.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default, ValueEnum, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Clicks {
    /// Never.
    Off,
    /// In the count-in alone.
    #[default]
    CountIn,
    /// Always.
    On,
}

/// One click.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Click {
    /// Whether it is the first of its bar.
    pub first: bool,
}

/// Calls `tell` with each click of the span of `beats` from `beat` on, and
/// its distance from the start of the span in beats. `bar` is a bar line at
/// or before `beat`.
pub fn clicks((beat, beats): (f64, f64), bar: f64, metre: Metre, mut tell: impl FnMut(f64, Click)) {
    let pulse = metre.pulse().beats();
    let in_a_bar = metre.felt_beats();
    let first = maths::whole(((beat - bar) / pulse - 1e-6).ceil());
    for n in first.. {
        let after = bar + n as f64 * pulse - beat;
        if after >= beats - 1e-6 {
            break;
        }
        tell(after.max(0.0), Click { first: n.rem_euclid(in_a_bar.max(1)) == 0 });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bar_of(beats: u8, unit: u8) -> String {
        let metre = Metre::new(beats, unit).expect("a metre");
        let length = metre.bar().beats();
        let mut out = vec!['.'; (length * 4.0) as usize];
        let mut beat = 0.0;
        while beat < length - 1e-9 {
            clicks((beat, 0.0625), 0.0, metre, |after, click| {
                out[((beat + after) * 4.0).round() as usize] = if click.first { '1' } else { 'x' };
            });
            beat += 0.0625;
        }
        out.into_iter().collect()
    }

    #[test]
    fn the_felt_beats_click_and_the_first_is_different() {
        // One column a sixteenth.
        assert_eq!(bar_of(4, 4), "1...x...x...x...");
        assert_eq!(bar_of(3, 4), "1...x...x...");
        assert_eq!(bar_of(6, 8), "1.....x.....");
        assert_eq!(bar_of(7, 8), "1.x.x.x.x.x.x.");
    }
}
