//! Beats against seconds: a straight line.

/// A steady tempo through a point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TempoLine {
    /// Seconds.
    pub at: f64,
    /// Quarter notes from the start of the song, there.
    pub beat: f64,
    /// Quarter notes a minute.
    pub tempo: f64,
}

impl TempoLine {
    /// Quarter notes a second.
    pub fn rate(self) -> f64 {
        self.tempo / 60.0
    }

    /// The beat at `seconds`.
    pub fn beat(self, seconds: f64) -> f64 {
        self.beat + (seconds - self.at) * self.rate()
    }

    /// The same place, from now on at another tempo.
    #[must_use]
    pub fn turn(self, seconds: f64, tempo: f64) -> Self {
        Self { at: seconds, beat: self.beat(seconds), tempo }
    }

    /// The same tempo, `beats` further on.
    #[must_use]
    pub fn shift(self, beats: f64) -> Self {
        Self { beat: self.beat + beats, ..self }
    }
}
