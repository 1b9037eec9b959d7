//! Where the chart says no chord (N.C.) the left hand rests.

use super::Engine;
use crate::foresee::chart;
use crate::time::Ticks;

impl Engine {
    /// Whether the chart, played by its bars, says no chord at `at`.
    pub(super) fn tacet(&self, at: Ticks) -> bool {
        self.song_in_bars().is_some_and(|song| chart::silent(song, at))
    }

    /// The end of a note struck at `at` that would last `until`: no later than
    /// the chart's next silence.
    pub(super) fn ends_by_tacet(&self, at: Ticks, until: Ticks) -> Ticks {
        let silence = self.song_in_bars().and_then(|song| chart::silence(song, at, until));
        silence.unwrap_or(until)
    }
}
