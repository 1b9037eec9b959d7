//! Plays a list of timed messages on an instrument, to the sample.

use sinistra_core::engine::Message;

use crate::Instrument;
use crate::limiter::Limiter;

/// A message and when it sounds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cue {
    /// Seconds from the start.
    pub at_s: f64,
    /// What happens there.
    pub message: Message,
}

/// How long the sound takes from its quiet start to its full level, seconds:
/// time to reach for the volume when it was left turned up.
const QUIET_START_S: f32 = 4.0;

/// Level of the quiet start.
const QUIET: f32 = 0.25;

/// An instrument with its part. Real-time safe where the instrument is.
pub struct Player {
    instrument: Box<dyn Instrument>,
    cues: Vec<Cue>,
    next: usize,
    frame: u64,
    level: f32,
    limiter: Limiter,
}

impl Player {
    /// `cues` in any order; they sound in the order of their times.
    pub fn new(instrument: Box<dyn Instrument>, mut cues: Vec<Cue>) -> Self {
        cues.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
        let limiter = Limiter::new(instrument.rate());
        Self { instrument, cues, next: 0, frame: 0, level: 1.0, limiter }
    }

    /// Begins quietly and reaches its level within four seconds of sound.
    #[must_use]
    pub fn starting_quiet(mut self) -> Self {
        self.level = QUIET;
        self
    }

    /// The next samples of both sides, within ±0.98.
    pub fn render(&mut self, left: &mut [f32], right: &mut [f32]) {
        let frames = left.len().min(right.len());
        let rate = f64::from(self.instrument.rate());
        let mut from = 0;
        while from < frames {
            let mut until = frames;
            while let Some(cue) = self.cues.get(self.next) {
                let at = (cue.at_s * rate).round().max(0.0) as u64;
                let wait = at.saturating_sub(self.frame) as usize;
                if wait > 0 {
                    until = until.min(from.saturating_add(wait));
                    break;
                }
                self.instrument.play(cue.message);
                self.next += 1;
            }
            let (Some(left), Some(right)) = (left.get_mut(from..until), right.get_mut(from..until))
            else {
                return;
            };
            self.instrument.render(left, right);
            self.finish(left, right);
            self.frame += (until - from) as u64;
            from = until;
        }
    }

    /// Plays a message now. Real-time safe where the instrument is.
    pub fn play(&mut self, message: Message) {
        self.instrument.play(message);
    }

    fn finish(&mut self, left: &mut [f32], right: &mut [f32]) {
        if self.level < 1.0 && !self.instrument.is_silent() {
            let step = (1.0 - QUIET) / (QUIET_START_S * self.instrument.rate() as f32);
            for (left, right) in left.iter_mut().zip(right.iter_mut()) {
                self.level = (self.level + step).min(1.0);
                *left *= self.level;
                *right *= self.level;
            }
        }
        self.limiter.process(left, right);
    }

    /// Seconds played so far.
    pub fn position_s(&self) -> f64 {
        self.frame as f64 / f64::from(self.instrument.rate())
    }

    /// Whether every cue was played and nothing sounds any more.
    pub fn is_over(&self) -> bool {
        self.next >= self.cues.len() && self.instrument.is_silent()
    }

    /// Seconds at which the last cue comes.
    pub fn last_cue_s(&self) -> f64 {
        self.cues.last().map_or(0.0, |cue| cue.at_s)
    }
}
