//! The charts that ship, invented for showing what a left hand can do.

use super::Chart;
use crate::{Faults, slug};

/// A chart that ships with the program.
#[derive(Clone, Copy, Debug)]
pub struct ChartPreset {
    /// As the command line names it, such as `lantern-street`.
    pub slug: &'static str,
    /// Its text.
    pub text: &'static str,
}

macro_rules! presets {
    ($($slug:literal)*) => {
        &[$(ChartPreset {
            slug: $slug,
            text: include_str!(concat!("../../../presets/charts/", $slug, ".txt")),
        },)*]
    };
}

const PRESETS: &[ChartPreset] = presets! {
    "lantern-street"
    "fog-over-the-lake"
    "millers-gate"
    "harbour-light"
    "slow-rain"
    "paper-boats"
    "four-bar-loop"
    "winter-market"
    "seven-stones"
    "swing-door"
};

impl ChartPreset {
    /// All, the easiest first.
    pub const fn all() -> &'static [Self] {
        PRESETS
    }

    /// By slug, whatever the case, with or without `.txt`, spaces for hyphens.
    pub fn find(name: &str) -> Option<&'static Self> {
        let name = slug(name);
        let name = name.strip_suffix(".txt").unwrap_or(&name);
        PRESETS.iter().find(|preset| preset.slug == name)
    }

    /// The chart.
    ///
    /// # Errors
    /// Never for those that ship; a test reads them all.
    pub fn chart(&self) -> Result<Chart, Faults> {
        Chart::read(self.slug, self.text)
    }
}
