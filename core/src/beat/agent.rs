//! One hypothesis: a tempo, a place in the bar, and how sure they are.

use super::place::{OFF, StruckPlaces, first_gap, slot, usual};
use super::quarters::{BeatQuarters, StrokeSigns, turned};
use super::{Branch, FASTEST, PlayerStroke, SLOWEST, TWINS};
use crate::maths;

/// How a player keeps time: strictly, freely, or getting steadily slower or
/// faster over bars.
pub const MODES: usize = 3;
/// The free one.
pub const FREE: usize = 1;
/// A steady change is seen only over as many beats.
const SEEN: f64 = 1.9;
const SWAYS: usize = 2;
/// How the length of a beat wanders, as a part of it, in a beat.
const WANDER: [f64; MODES] = [0.0024, 0.013, 0.004];
/// How its change wanders, in a beat.
const SWAY: [f64; MODES] = [0.0, 0.014, 0.004];
/// The part of the change that is left after a beat.
const LASTS: [f64; MODES] = [0.85, 0.85, 0.98];
/// The greatest change in a beat, as a part of it.
const MOST: f64 = 0.12;
/// How a stroke's time scatters about its place, seconds: a chord's, then a
/// single key's, as melodies are freer.
const HAND_S: f64 = 0.016;
const ALONE_S: f64 = 0.0256;
/// Degrees of freedom of that scatter: heavy tails, for slips.
const TAILS: f64 = 4.29;
/// Added to a distance's cost, so that a stroke in its place costs about nothing.
const IN_PLACE: f64 = 2.5;
/// A new tempo may be so many times the old.
const NEW: core::ops::Range<f64> = 0.6..1.7;
/// One deviation of it, as a logarithm.
const NEW_DEVIATION: f64 = 0.2;
/// How much of what speaks against a pedal's place in the beat speaks against the beat.
const PEDAL_SPEAKS: f64 = 0.1;
/// How unsure a tempo is that has just changed at once, as a part of it.
const UNSURE: f64 = 0.35;

type Matrix = [[f64; 3]; 3];

/// How a stroke is taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TakenAs {
    /// As it comes.
    On,
    /// The tempo has changed at once.
    Jump,
    /// The player has held, and goes on as before.
    Hold,
}

/// See the module.
#[derive(Clone, Copy, Debug)]
pub struct Agent {
    /// The place of the last stroke that was followed, in beats.
    pub beat: f64,
    /// What speaks against it; the less the better.
    pub cost: f64,
    /// How the player keeps time, of [`MODES`].
    pub mode: usize,
    /// Strokes that were followed.
    pub strokes: u32,
    /// The time of the last stroke, the length of a beat, and the change of
    /// that in a beat; seconds.
    state: [f64; 3],
    /// Their covariance.
    spread: Matrix,
    /// Where chords, then single keys, were struck.
    own: [StruckPlaces; 2],
    /// Which quarter of the beat is the beat.
    quarters: BeatQuarters,
}

/// How far a stroke is from a place.
pub struct Late {
    /// What that costs.
    pub cost: f64,
    /// How much later it is, in beats.
    pub beats: f64,
    /// Whether that is farther than scatter explains.
    pub is_far: bool,
}

impl Agent {
    /// The first stroke, when and at which beat; the tempo, and how sure that
    /// is as a part of it.
    pub fn new((at, beat): (f64, f64), tempo: f64, sure: f64, bar: usize) -> Self {
        let period = 60.0 / tempo;
        let mut spread = [[0.0; 3]; 3];
        spread[0][0] = HAND_S * HAND_S;
        spread[1][1] = sure * period * sure * period;
        spread[2][2] = 1e-6;
        let mut own = [StruckPlaces::default(); 2];
        if libm::floor(beat) == beat {
            own[0].note(slot(bar, maths::whole(beat)), 0);
        }
        let state = [at, period, 0.0];
        let quarters = BeatQuarters::new(beat);
        Self { beat, cost: 0.0, mode: FREE, strokes: 1, state, spread, own, quarters }
    }

    /// The length of a beat, seconds.
    pub fn length(&self) -> f64 {
        self.state[1]
    }

    /// The state after some beats, and what is left of the change then.
    fn after(&self, mode: usize, beats: f64) -> ([f64; 3], f64) {
        let [at, period, change] = self.state;
        let change = if mode == 0 { 0.0 } else { change };
        let kept = libm::pow(LASTS[mode], beats);
        let turned = change * (1.0 - kept) / (1.0 - LASTS[mode]);
        let moved = (turned * beats * 0.5).clamp(-0.3 * period * beats, 0.5 * period * beats);
        ([at + period * beats + moved, (period + turned).max(0.1), change * kept], kept)
    }

    /// The same with how sure it is.
    fn foreseen(&self, mode: usize, beats: f64) -> ([f64; 3], Matrix) {
        let (state, kept) = self.after(mode, beats);
        let turns = (1.0 - kept) / (1.0 - LASTS[mode]);
        let step = [[1.0, beats, turns * beats * 0.5], [0.0, 1.0, turns], [0.0, 0.0, kept]];
        let mut spread = [[0.0; 3]; 3];
        for i in 0..3 {
            for j in 0..3 {
                for k in 0..3 {
                    for l in 0..3 {
                        spread[i][j] += step[i][k] * self.spread[k][l] * step[j][l];
                    }
                }
            }
        }
        let of_period = |part: f64| part * part * self.length() * self.length() * beats;
        let wander = of_period(WANDER[mode]);
        spread[0][0] += wander * beats * beats / 3.0;
        spread[1][1] += wander;
        spread[0][1] += wander * beats * 0.5;
        spread[1][0] += wander * beats * 0.5;
        spread[2][2] += of_period(SWAY[mode]);
        if mode == 0 {
            forget_change(&mut spread);
        }
        (state, spread)
    }

    /// The beat at `at` seconds, and its length there.
    pub fn at(&self, at: f64) -> (f64, f64) {
        let [then, period, _] = self.state;
        let mut beats = (at - then) / period;
        let mut length = period;
        if beats > 0.0 {
            for _ in 0..4 {
                let (state, _) = self.after(self.mode, beats);
                length = state[1];
                beats = (beats + (at - state[0]) / length).max(0.0);
            }
        }
        (self.beat + beats, length)
    }

    /// Whether the player may go on in a mode, over so many beats.
    pub fn may(&self, mode: usize, beats: f64) -> bool {
        match mode {
            FREE => true,
            SWAYS => self.strokes > 1 && beats >= SEEN,
            _ => self.strokes > 1,
        }
    }

    /// What it costs that a stroke falls on a place of a beat (with the bar's
    /// length), so many beats after the last, where a chord may be written.
    pub fn falls(
        &self,
        (bar, whole, place): (usize, i64, usize),
        chord: bool,
        beats: f64,
        written: bool,
    ) -> f64 {
        let beat = slot(bar, whole);
        let usual = usual(bar, beat, place, chord);
        let mut likely = self.own[usize::from(!chord)].likely(beat, place, usual);
        if chord && written {
            likely = (likely * 4.0).min(0.9);
        }
        if self.strokes == 1 {
            likely *= first_gap(beats, bar);
        }
        OFF[place] - libm::log(likely.max(1e-4))
    }

    /// How far the stroke is from the place that lies so many beats on.
    pub fn late(&self, mode: usize, beats: f64, stroke: PlayerStroke) -> Late {
        let (state, spread) = self.foreseen(mode, beats);
        let (error, variance) = (stroke.at - state[0], spread[0][0] + scatter(stroke));
        // In beats, so that slow and fast ones are judged alike.
        let (beats, in_beats) = (error / state[1], variance / (state[1] * state[1]));
        let tails = libm::log(1.0 + beats * beats / in_beats / TAILS);
        let cost = 0.5 * (TAILS + 1.0) * tails + 0.5 * libm::log(in_beats) + IN_PLACE;
        Late { cost, beats, is_far: error * error > 4.0 * variance }
    }

    /// What it costs that the tempo has changed at once so that a stroke at
    /// `at` lies so many beats on; `None` if by too much.
    pub fn jump(&self, beats: f64, at: f64) -> Option<f64> {
        let ratio = (at - self.state[0]) / beats / self.length();
        NEW.contains(&ratio).then(|| {
            let far = libm::log(ratio) / NEW_DEVIATION;
            0.5 * far * far - 0.5
        })
    }

    /// Goes a way at a stroke, in bars of so many beats.
    pub fn take(&mut self, way: &Branch, stroke: PlayerStroke, signs: StrokeSigns, bar: usize) {
        let mode = way.mode;
        self.mode = mode;
        if mode == 0 {
            self.state[2] = 0.0;
        }
        let Some((whole, place)) = way.to else { return };
        let beat = whole as f64 + super::PLACES[place];
        match way.kind {
            TakenAs::On => {}
            TakenAs::Jump => {
                self.state[2] = 0.0;
                forget_change(&mut self.spread);
                let unsure = UNSURE * self.length();
                self.spread[1][1] += unsure * unsure;
            }
            TakenAs::Hold => {
                let (state, _) = self.after(mode, beat - self.beat);
                self.state[2] = 0.0;
                self.state[0] += stroke.at - state[0];
                self.spread[0][0] += HAND_S * HAND_S;
            }
        }
        let (state, spread) = self.foreseen(mode, beat - self.beat);
        let total = spread[0][0] + scatter(stroke);
        let gain = spread.map(|row| row[0] / total);
        let error = stroke.at - state[0];
        for (i, part) in gain.into_iter().enumerate() {
            self.state[i] = state[i] + part * error;
            self.spread[i] = [0, 1, 2].map(|j| spread[i][j] - part * spread[0][j]);
        }
        self.state[1] = self.state[1].clamp(60.0 / FASTEST, 60.0 / SLOWEST);
        let most = MOST * self.length();
        self.state[2] = self.state[2].clamp(-most, most);
        self.quarters.hear(beat - self.beat, place, signs, way.written);
        self.beat = beat;
        self.strokes = self.strokes.saturating_add(1);
        self.own[usize::from(!stroke.is_chord())].note(slot(bar, whole), place);
        if let Some(by) = self.quarters.turn() {
            self.beat += turned(by);
            self.own.iter_mut().for_each(|own| own.turn(by, bar));
        }
    }

    /// The pedal goes down or comes up at `at` seconds.
    pub fn pedal(&mut self, at: f64, down: bool) {
        self.cost += PEDAL_SPEAKS * self.quarters.pedal(self.at(at).0, down);
    }

    /// Whether another says the same.
    pub fn is_twin(&self, other: &Self, at: f64) -> bool {
        let ((one, long), (two, length)) = (self.at(at), other.at(at));
        self.mode == other.mode && (one - two).abs() < TWINS && (long / length - 1.0).abs() < TWINS
    }
}

fn scatter(stroke: PlayerStroke) -> f64 {
    let hand = if stroke.is_chord() { HAND_S } else { ALONE_S };
    hand * hand
}

/// Nothing is known of the change any more.
fn forget_change(spread: &mut Matrix) {
    spread.iter_mut().for_each(|row| row[2] = 0.0);
    spread[2] = [0.0, 0.0, 0.0];
    spread[2][2] = 1e-9;
}

#[cfg(test)]
mod tests {
    use super::super::quarters::LastStruck;
    use super::*;
    use crate::pitch::KeyNumber;

    /// At its first stroke, at 0 s on a beat of half a second.
    fn agent() -> Agent {
        Agent::new((0.0, 0.0), 120.0, 0.1, 4)
    }

    #[test]
    fn a_change_that_lasts_moves_a_beat_by_half_of_it_at_most() {
        let mut slower = agent();
        slower.state[2] = 0.06;
        let ([at, ..], _) = slower.after(SWAYS, 40.0);
        assert!((at - 30.0).abs() < 1e-9, "{at} s");
        let mut faster = agent();
        faster.state[2] = -0.06;
        let ([at, ..], _) = faster.after(SWAYS, 40.0);
        assert!((at - 14.0).abs() < 1e-9, "{at} s");
    }

    #[test]
    fn no_beat_is_slower_or_faster_than_any_music() {
        for (at, longest) in [(30.0, 60.0 / SLOWEST), (0.001, 60.0 / FASTEST)] {
            let mut agent = agent();
            let stroke = PlayerStroke::of_key(at, KeyNumber::MIDDLE_C);
            let signs = LastStruck::default().hear(stroke, 0.5);
            let to = Some((1, 0));
            let (kind, mode) = (TakenAs::Jump, FREE);
            let way = Branch { cost: 0.0, agent: 0, to, written: false, kind, mode };
            agent.take(&way, stroke, signs, 4);
            assert!((agent.length() - longest).abs() < 1e-9, "{} s", agent.length());
        }
    }
}
