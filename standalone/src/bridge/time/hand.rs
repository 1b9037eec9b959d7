//! Tempo and beat from the chords that the player strikes.
//!
//! Phase and period are corrected apart, each by a part of the error: the
//! two-process model of keeping in time with others (J. Mates, "A model of
//! synchronization of motor acts to a stimulus sequence", Biological
//! Cybernetics 70, 1994, 463–473 and 475–484; B. H. Repp, "Sensorimotor
//! synchronization: a review of the tapping literature", Psychonomic Bulletin
//! & Review 12, 2005, 969–992). The sizes of the parts are ours, by trial.

use super::line::Line;

/// The part of the error by which the beat is moved at once.
const PHASE: f64 = 0.6;
/// The part of the tempo error of the last span by which the tempo moves.
const PERIOD: f64 = 0.45;
/// A chord half-way between beats tells less: it may be a push.
const OFF_BEAT: f64 = 0.4;
/// A chord farther than this from any half, in beats, is a triplet,
/// a grace or a slip: not followed.
const FAR: f64 = 0.19;

/// Slowest and fastest that a hand is followed, beats a minute.
pub const SLOWEST: f64 = 40.0;
/// See [`SLOWEST`].
pub const FASTEST: f64 = 220.0;

/// A beat that follows the hand. Beats here are the felt ones: the caller
/// turns dotted quarters to quarters.
#[derive(Clone, Copy, Debug)]
pub struct Hand {
    line: Line,
    /// When the last chord on a beat was struck, and which beat that was.
    last: (f64, f64),
    chords: u32,
}

impl Hand {
    /// The first chord was struck at `at`: beat 0. `hint` is the tempo to
    /// expect, in beats a minute.
    pub fn new(at: f64, hint: f64) -> Self {
        Self { line: Line { at, beat: 0.0, tempo: hint }, last: (at, 0.0), chords: 1 }
    }

    /// A chord was struck at `at`.
    pub fn chord(&mut self, at: f64) {
        self.chords = self.chords.saturating_add(1);
        if self.chords == 2 {
            return self.second(at);
        }
        let beat = self.line.beat(at);
        let nearest = (beat * 2.0).round() / 2.0;
        let error = beat - nearest; // positive: the line is ahead of the hand
        if error.abs() > FAR {
            return;
        }
        let on_the_beat = nearest.fract() == 0.0;
        let trust = if on_the_beat { 1.0 } else { OFF_BEAT };
        let (then, was) = self.last;
        let mut tempo = self.line.tempo;
        if nearest > was && at > then {
            let played = (nearest - was) / (at - then) * 60.0;
            tempo += (played - tempo) * PERIOD * trust;
        }
        if on_the_beat {
            self.last = (at, nearest);
        }
        self.move_to(at, beat - error * PHASE * trust, tempo);
    }

    /// The second chord gives the first real tempo: the distance is as many
    /// beats as bring it nearest to what is expected; whole bars are likely.
    fn second(&mut self, at: f64) {
        let seconds = (at - self.line.at).max(1e-3);
        let hint = self.line.tempo;
        let cost = |beats: f64| {
            let octaves = (60.0 * beats / seconds / hint).log2().abs();
            octaves + if [1.0, 2.0, 4.0, 8.0].contains(&beats) { 0.0 } else { 0.15 }
        };
        let beats = (1..=8).map(f64::from).min_by(|a, b| cost(*a).total_cmp(&cost(*b)));
        let beats = beats.unwrap_or(1.0);
        let tempo = 60.0 * beats / seconds;
        if !(hint * 0.6..=hint * 1.67).contains(&tempo) {
            self.chords = 1; // too near or too far: not the second beat
            return;
        }
        self.last = (at, beats);
        self.move_to(at, beats, tempo);
    }

    fn move_to(&mut self, at: f64, beat: f64, tempo: f64) {
        self.line = Line { at, beat, tempo: tempo.clamp(SLOWEST, FASTEST) };
    }

    /// Counts anew: `beats` are added to the position.
    pub fn shift(&mut self, beats: f64) {
        self.line = self.line.shift(beats);
        self.last.1 += beats;
    }

    /// Where the song is.
    pub fn line(&self) -> Line {
        self.line
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Follows chords at `beats` of a player whose tempo at beat b is
    /// `tempo(b)`; gives the error in milliseconds at each chord after the
    /// fourth, before it is corrected.
    fn follow(hint: f64, beats: &[f64], tempo: impl Fn(f64) -> f64, spread_ms: f64) -> Vec<f64> {
        let (mut at, mut beat, mut seed) = (5.0, 0.0, 1u64);
        let mut hand = Hand::new(at, hint);
        let mut errors = Vec::new();
        for (n, &next) in beats.iter().enumerate() {
            while beat < next - 1e-9 {
                at += 0.01 * 60.0 / tempo(beat);
                beat += 0.01;
            }
            seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(99);
            let human = ((seed >> 40) as f64 / f64::from(1u32 << 24) - 0.5) * 2.0 * spread_ms / 1e3;
            if n >= 3 {
                errors.push((hand.line().beat(at) - next).abs() * 60_000.0 / tempo(beat));
            }
            hand.chord(at + human);
        }
        errors
    }

    fn bars(step: f64, n: i32) -> Vec<f64> {
        (1..=n).map(|b| f64::from(b) * step).collect()
    }

    fn worst(errors: &[f64]) -> f64 {
        errors.iter().copied().fold(0.0, f64::max)
    }

    #[test]
    fn a_steady_hand_is_followed_from_the_second_chord_on() {
        for (played, step) in [(88.0, 4.0), (132.0, 2.0), (100.0, 1.0)] {
            let errors = follow(100.0, &bars(step, 30), |_| played, 0.0);
            assert!(worst(&errors) < 1.0, "{played} every {step}: {errors:?}");
        }
    }

    #[test]
    fn a_human_hand_is_followed_within_the_width_of_its_own_spread() {
        let errors = follow(96.0, &bars(2.0, 100), |_| 104.0, 15.0);
        assert!(worst(&errors) < 30.0, "{}", worst(&errors));
    }

    #[test]
    fn getting_slower_at_the_end_is_followed() {
        let errors = follow(100.0, &bars(1.0, 40), |b| 100.0 - b * 0.75, 0.0);
        assert!(worst(&errors) < 40.0, "{}", worst(&errors));
    }

    #[test]
    fn pushes_do_not_turn_the_beat_around() {
        // Each bar's chord comes an eighth early every other bar.
        let beats: Vec<f64> =
            (1..40).map(|b| f64::from(b) * 4.0 - if b % 2 == 0 { 0.5 } else { 0.0 }).collect();
        let errors = follow(110.0, &beats, |_| 112.0, 5.0);
        assert!(worst(&errors) < 60.0, "{}", worst(&errors));
    }
}
