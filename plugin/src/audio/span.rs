//! How far the left hand hears ahead: beats for the player, frames for the host.
//!
//! The host makes up for a latency in frames, so the frames are what is kept:
//! while the host plays, the right hand is delayed by the same number of frames
//! whatever the tempo does, and the beats that are known ahead grow and shrink
//! with it. While the host stands still the frames follow its tempo, so that the
//! next time it plays they are the beats that were asked for.

use sinistra_core::maths;

/// A tempo that the player is still turning is not followed yet; seconds.
const STEADY: f64 = 0.25;

/// Beats, and the frames that they are.
#[derive(Clone, Debug, Default)]
pub struct BeatSpan {
    beats: i32,
    /// The tempo by which the frames were counted, once one is known.
    tempo: Option<f64>,
    frames: u32,
    /// A new tempo, and for how many frames it has held.
    trial: (f64, u32),
}

/// What a block says about it.
#[derive(Clone, Copy, Debug)]
pub struct BlockReport {
    /// Quarter notes, as set.
    pub beats: i32,
    /// Quarter notes a minute, if the host or our own clock has any.
    pub tempo: f64,
    /// Frames a second.
    pub rate: f64,
    /// Whether the host plays.
    pub playing: bool,
}

impl BeatSpan {
    /// Frames by which the right hand is delayed.
    pub fn frames(&self) -> u32 {
        self.frames
    }

    /// The tempo by which they were counted.
    pub fn tempo(&self) -> Option<f64> {
        self.tempo
    }

    /// Before playing: counts anew, by the tempo that is known already or else
    /// by `said`. `true` if the frames are others.
    pub fn prepare(&mut self, said: BlockReport) -> bool {
        self.count(said.beats, self.tempo.unwrap_or(said.tempo), said.rate)
    }

    /// A tempo from an earlier day.
    pub fn remember(&mut self, tempo: f64) {
        self.tempo = self.tempo.or(Some(tempo));
    }

    /// A block of `frames` begins. `true` if from now on the frames are others.
    /// Real-time safe.
    pub fn follow(&mut self, said: BlockReport, frames: u32) -> bool {
        let Some(known) = self.tempo.filter(|_| said.beats == self.beats) else {
            self.tempo = Some(said.tempo);
            return self.count(said.beats, said.tempo, said.rate);
        };
        if said.playing || said.tempo == known {
            self.trial = (known, 0);
            return false;
        }
        if self.trial.0 != said.tempo {
            self.trial = (said.tempo, 0);
        }
        self.trial.1 = self.trial.1.saturating_add(frames);
        if f64::from(self.trial.1) < STEADY * said.rate {
            return false;
        }
        self.tempo = Some(said.tempo);
        self.count(said.beats, said.tempo, said.rate)
    }

    fn count(&mut self, beats: i32, tempo: f64, rate: f64) -> bool {
        self.beats = beats;
        let frames = maths::frames((f64::from(beats) * 60.0 / tempo.max(1.0) * rate).round());
        std::mem::replace(&mut self.frames, frames) != frames
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(beats: i32, tempo: f64, playing: bool) -> BlockReport {
        BlockReport { beats, tempo, rate: 48_000.0, playing }
    }

    #[test]
    fn while_the_host_plays_the_frames_stay() {
        let mut span = BeatSpan::default();
        assert!(span.follow(said(1, 120.0, false), 64));
        assert_eq!(span.frames(), 24_000);
        for tempo in [120.0, 90.0, 200.0] {
            assert!(!span.follow(said(1, tempo, true), 48_000));
        }
        // Set anew, it is counted by the tempo of the moment.
        assert!(span.follow(said(2, 60.0, true), 64));
        assert_eq!(span.frames(), 96_000);
    }

    #[test]
    fn while_it_stands_still_they_follow_a_tempo_that_has_settled() {
        let mut span = BeatSpan::default();
        span.follow(said(1, 120.0, false), 64);
        for tempo in [119.0, 118.0, 117.0] {
            assert!(!span.follow(said(1, tempo, false), 6_000), "still being turned");
        }
        assert!(!span.follow(said(1, 100.0, false), 6_000));
        assert!(span.follow(said(1, 100.0, false), 6_000));
        assert_eq!(span.frames(), 28_800);
        assert_eq!(span.tempo(), Some(100.0));
    }

    #[test]
    fn a_remembered_tempo_counts_before_the_first_block() {
        let mut span = BeatSpan::default();
        span.remember(60.0);
        assert!(span.prepare(said(1, 120.0, false)));
        assert_eq!(span.frames(), 48_000);
        assert!(!span.prepare(said(1, 120.0, false)));
    }

    #[test]
    fn the_first_tempo_that_is_heard_counts() {
        let mut span = BeatSpan::default();
        span.prepare(said(1, 120.0, false));
        assert!(span.follow(said(1, 90.0, true), 64));
        assert_eq!(span.frames(), 32_000);
    }

    #[test]
    fn off_is_no_delay() {
        let mut span = BeatSpan::default();
        assert!(!span.follow(said(0, 120.0, false), 64));
        span.follow(said(4, 120.0, false), 64);
        assert!(span.follow(said(0, 90.0, true), 64));
        assert_eq!(span.frames(), 0);
    }
}
