//! How late is late: tolerances that grow with the beat.

use serde::Serialize;

/// What is let pass at a tempo, in milliseconds.
///
/// Source: common practice, set beside published measurements quoted from
/// memory: listeners notice a displaced tone in an even sequence from about
/// 2.5 % of the interval, 6 ms at the least (Friberg & Sundberg, J. Acoust.
/// Soc. Am. 98, 1995); tapping with a metronome scatters by 2–4 % of the
/// interval in trained players and about twice that in untrained ones (Repp,
/// Psychonomic Bulletin & Review 12, 2005); two tones under 20–30 ms apart are
/// heard as struck together (Hirsh, J. Acoust. Soc. Am. 31, 1959).
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Tolerance {
    /// A single note farther off than this is early or late.
    pub note_ms: f64,
    /// A mean over several notes farther off than this is a habit.
    pub mean_ms: f64,
    /// Notes of one stroke farther apart than this were not struck together.
    pub together_ms: f64,
}

impl Tolerance {
    /// For a felt beat of `pulse_ms` milliseconds: single notes 6 % of it
    /// within 25..=60 ms; a mean half of that.
    #[must_use]
    pub fn at(pulse_ms: f64) -> Self {
        let note_ms = (0.06 * pulse_ms).clamp(25.0, 60.0);
        Self { note_ms, mean_ms: note_ms / 2.0, together_ms: 30.0 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slow_practice_is_given_more_time_but_not_any() {
        for (tempo, allowed) in [(120.0, 30.0), (60.0, 60.0), (30.0, 60.0), (240.0, 25.0)] {
            assert!((Tolerance::at(60_000.0 / tempo).note_ms - allowed).abs() < 1e-9, "{tempo}");
        }
    }
}
