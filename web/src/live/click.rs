//! The metronome: a short tap of wood.

use std::f32::consts::TAU;

use arrayvec::ArrayVec;
use sinistra_core::engine::Transport;

/// Seconds in which a tap falls by 60 dB.
const TAP_S: f32 = 0.06;
/// The pitch of a tap on the bar line, and on other beats, hertz: a high and a low
/// wood block (by ear).
const PITCH_HZ: [f32; 2] = [1_900.0, 1_350.0];
/// Its level at full velocity.
const LEVEL: f32 = 0.25;

/// Taps of a block, and the one that sounds.
pub struct PageMetronome {
    rate: f32,
    due: ArrayVec<(u32, u8), 16>,
    level: f32,
    phase: f32,
    pitch: f32,
}

impl PageMetronome {
    pub fn new(rate: u32) -> Self {
        Self { rate: rate as f32, due: ArrayVec::new(), level: 0.0, phase: 0.0, pitch: 1.0 }
    }

    /// Taps at `frame` of this block; 90 and harder is a bar line.
    pub fn strike(&mut self, frame: u32, velocity: u8) {
        let _ = self.due.try_push((frame, velocity));
    }

    /// Taps on every felt beat (`felt` quarter notes) of a block `beats` long.
    pub fn beats(&mut self, transport: &Transport, felt: f64, beats: f64, frames: u32) {
        if felt <= 0.0 || beats <= 0.0 {
            return;
        }
        let into = transport.beat - transport.bar;
        let mut n = (into / felt).ceil();
        while n * felt < into + beats {
            let frame = ((n * felt - into) / beats * f64::from(frames)) as u32;
            let bar = (n * felt) % transport.metre.bar().beats() < 1e-9;
            self.strike(frame, if bar { 100 } else { 70 });
            n += 1.0;
        }
    }

    /// Adds the block's taps.
    pub fn add(&mut self, left: &mut [f32], right: &mut [f32]) {
        if self.due.is_empty() && self.level < 1e-4 {
            return;
        }
        let decay = (-6.9 / (TAP_S * self.rate)).exp();
        for (n, (left, right)) in left.iter_mut().zip(right).enumerate() {
            if let Some((_, velocity)) = self.due.iter().find(|(frame, _)| *frame as usize == n) {
                self.level = LEVEL * f32::from(*velocity) / 127.0;
                self.pitch = PITCH_HZ[usize::from(*velocity < 90)] / self.rate;
                self.phase = 0.0;
            }
            let sound = (self.phase * TAU).sin() * self.level;
            self.phase = (self.phase + self.pitch).fract();
            self.level *= decay;
            *left += sound;
            *right += sound;
        }
        self.due.clear();
    }
}
