//! One sounding string: a recording played at a pitch, level and brightness.

use super::loudness;
use super::recordings::Recording;

/// Seconds in which a voice that must go, goes: short, but no click.
const STOLEN_S: f32 = 0.006;

/// Seconds in which an old stroke fades under a new one of the same key.
const STRUCK_AGAIN_S: f32 = 0.12;

/// Seconds in which a stroke comes in, so that the cut before it is no click.
const ATTACK_S: f32 = 0.001;

/// Level at which a voice has ended: −90 dB.
const ENDED: f32 = 3.2e-5;

/// Part of the way that the channel's gain is followed each second.
const FOLLOW_S: f32 = 0.01;

/// How a voice is on its way.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum VoiceStage {
    /// The key is down.
    Held,
    /// The key is up and a pedal holds the damper.
    Pedalled,
    /// The damper is on the string.
    Damped,
    /// It makes room for another stroke.
    Leaving,
}

/// A voice; plays on until [`PianoVoice::render`] says that it has ended.
pub struct PianoVoice {
    /// MIDI channel, 0..=15.
    pub channel: u8,
    /// MIDI key number.
    pub key: u8,
    /// How it is on its way.
    pub stage: VoiceStage,
    /// Its peak in the last block; the quietest voice is the least missed.
    pub peak: f32,
    recording: &'static Recording,
    position: f64,
    step: f64,
    level: f32,
    envelope: f32,
    /// Factor a sample on `envelope`.
    decay: f32,
    attack: f32,
    attack_step: f32,
    gain: f32,
    follow: f32,
    highs: f32,
    /// One-pole low-pass: its coefficient and its state.
    low_by: f32,
    low: [f32; 2],
    rate: f32,
}

impl PianoVoice {
    /// A stroke on `key` at `velocity`, at `rate` samples a second, through a
    /// channel whose gain is `gain`. Real-time safe.
    pub fn strike(
        recording: &'static Recording,
        (channel, key, velocity): (u8, u8, u8),
        gain: f32,
        rate: f32,
    ) -> Self {
        let semitones = f64::from(key) - f64::from(recording.key);
        let turn = std::f32::consts::TAU * loudness::highs_from_hz(key) / rate;
        Self {
            channel,
            key,
            stage: VoiceStage::Held,
            peak: loudness::level(velocity),
            recording,
            position: 0.0,
            step: f64::from(recording.rate) / f64::from(rate) * (semitones / 12.0).exp2(),
            level: loudness::level(velocity),
            envelope: 1.0,
            decay: 1.0,
            attack: 0.0,
            attack_step: 1.0 / (ATTACK_S * rate),
            gain,
            follow: 1.0 / (FOLLOW_S * rate),
            highs: loudness::highs(velocity),
            low_by: 1.0 - (-turn).exp(),
            low: [0.0; 2],
            rate,
        }
    }

    /// The damper falls, where this key has one.
    pub fn damp(&mut self) {
        if self.stage < VoiceStage::Damped {
            self.stage = VoiceStage::Damped;
            if let Some(seconds) = loudness::damper_s(self.key) {
                self.decay = decay(seconds, self.rate);
            }
        }
    }

    /// The same key is struck again.
    pub fn give_way(&mut self) {
        self.leave(STRUCK_AGAIN_S);
    }

    /// Ends at once, without a click.
    pub fn cut(&mut self) {
        self.leave(STOLEN_S);
    }

    fn leave(&mut self, seconds: f32) {
        self.stage = VoiceStage::Leaving;
        self.decay = self.decay.min(decay(seconds, self.rate));
    }

    /// Adds the next samples to both sides; `false` when it has ended.
    /// `gain` is where the channel's gain is to go.
    pub fn render(&mut self, gain: f32, left: &mut [f32], right: &mut [f32]) -> bool {
        let mut peak = 0.0f32;
        for (left, right) in left.iter_mut().zip(right) {
            let Some(sound) = self.interpolate() else { return false };
            self.gain += (gain - self.gain) * self.follow;
            self.attack = (self.attack + self.attack_step).min(1.0);
            self.envelope *= self.decay;
            let level = self.level * self.gain * self.attack * self.envelope;
            for (side, (out, low)) in [left, right].into_iter().zip(&mut self.low).enumerate() {
                let sound = sound[side] * level;
                *low += (sound - *low) * self.low_by;
                let shaped = *low + (sound - *low) * self.highs;
                *out += shaped;
                peak = peak.max(shaped.abs());
            }
            self.position += self.step;
        }
        self.peak = peak;
        self.envelope > ENDED
    }

    /// The recording at the position, through four neighbours (Catmull-Rom);
    /// `None` at its end.
    fn interpolate(&self) -> Option<[f32; 2]> {
        let at = self.position as usize;
        let t = (self.position - at as f64) as f32;
        let [a, b, c, d] = *self.recording.frames.get(at..)?.first_chunk::<4>()?;
        let side = |n: usize| {
            let [a, b, c, d] = [a[n], b[n], c[n], d[n]].map(f32::from);
            let slope = c - a;
            let bend = 2.0 * a - 5.0 * b + 4.0 * c - d;
            let twist = 3.0 * (b - c) + d - a;
            (b + 0.5 * t * (slope + t * (bend + t * twist))) / 32_768.0
        };
        Some([side(0), side(1)])
    }
}

/// Factor a sample that takes a level down by 60 dB in `seconds`.
fn decay(seconds: f32, rate: f32) -> f32 {
    (-6.907_755 / (seconds * rate)).exp()
}
