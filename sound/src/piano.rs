//! The sampled piano that is built in.

use sinistra_core::pitch::KeyNumber;

use crate::Instrument;
use crate::pedals::PianoPedals;
use crate::recordings::{self, KEYS, Recording};
use crate::voice::{PianoVoice, VoiceStage};

/// Strokes that sound at once; the quietest makes room for one more.
const VOICES: usize = 64;

/// Places for strokes that make room, while they fade.
const LEAVING: usize = 16;

/// Level of the whole, so that ten hard strokes together stay near full scale.
const HEADROOM: f32 = 0.35;

/// Velocity of a stroke with the soft pedal down, as a part of its own (by ear).
const SOFT_PEDAL: f32 = 0.75;

/// A grand piano with sustain, sostenuto and soft pedal for each channel.
/// Allocates in [`Piano::new`] and never after; never locks.
pub struct Piano {
    recordings: Vec<&'static Recording>,
    /// Recordings that are being decoded, a bit each in their order.
    awaited: u64,
    voices: Vec<PianoVoice>,
    pedals: [PianoPedals; 16],
    rate: u32,
}

impl Piano {
    /// At `rate` samples a second. The first call decodes the recordings.
    pub fn new(rate: u32) -> Self {
        let mut piano = Self::without_recordings(rate);
        recordings::all().for_each(|recording| piano.learn(recording));
        piano
    }

    /// The same at once: it plays on the recordings that are decoded by now, which
    /// are more from block to block.
    pub fn starting(rate: u32) -> Self {
        recordings::begin();
        Self { awaited: (1 << KEYS.len()) - 1, ..Self::without_recordings(rate) }
    }

    /// Learns what was decoded since. Real-time safe.
    fn look(&mut self) {
        for n in 0..KEYS.len() {
            let awaited = self.awaited >> n & 1 == 1;
            if awaited && let Some(recording) = recordings::ready(n) {
                self.awaited &= !(1 << n);
                self.learn(recording);
            }
        }
    }

    /// Silent until it has learned a recording.
    pub fn without_recordings(rate: u32) -> Self {
        Self {
            recordings: Vec::with_capacity(KEYS.len()),
            awaited: 0,
            voices: Vec::with_capacity(VOICES + LEAVING),
            pedals: [PianoPedals::default(); 16],
            rate,
        }
    }

    /// From now on strokes near `recording` sound by it. Real-time safe up to as
    /// many as [`KEYS`] has.
    pub fn learn(&mut self, recording: &'static Recording) {
        self.recordings.push(recording);
        // As if they had come from the lowest up: of two as near, the lower sounds.
        self.recordings.sort_unstable_by_key(|recording| recording.key);
    }

    fn nearest(&self, key: u8) -> Option<&'static Recording> {
        self.recordings.iter().copied().min_by_key(|recording| recording.key.abs_diff(key))
    }

    /// Room for one more voice; the old ones leave without a click.
    fn make_room(&mut self) {
        let staying = self.voices.iter().filter(|voice| voice.stage != VoiceStage::Leaving).count();
        if staying >= VOICES {
            let quietest = self
                .voices
                .iter_mut()
                .filter(|voice| voice.stage != VoiceStage::Leaving)
                .min_by(|a, b| by_worth(a, b));
            if let Some(voice) = quietest {
                voice.cut();
            }
        }
        if self.voices.len() >= VOICES + LEAVING {
            // More than sixteen leave within their last milliseconds.
            let quietest = (0..self.voices.len()).min_by(|&a, &b| {
                match (self.voices.get(a), self.voices.get(b)) {
                    (Some(a), Some(b)) => by_worth(a, b),
                    _ => std::cmp::Ordering::Equal,
                }
            });
            if let Some(quietest) = quietest {
                self.voices.swap_remove(quietest);
            }
        }
    }

    /// Dampers fall on the keys of `channel` that are up and that no pedal holds.
    fn dampers(&mut self, channel: u8) {
        let Some(pedals) = self.pedals.get(usize::from(channel)) else { return };
        for voice in &mut self.voices {
            if voice.channel == channel
                && voice.stage == VoiceStage::Pedalled
                && !pedals.hold(voice.key)
            {
                voice.damp();
            }
        }
    }

    fn release(&mut self, channel: u8, key: Option<u8>) {
        let Some(pedals) = self.pedals.get(usize::from(channel)) else { return };
        for voice in &mut self.voices {
            if voice.channel == channel
                && voice.stage == VoiceStage::Held
                && key.is_none_or(|key| key == voice.key)
            {
                if pedals.hold(voice.key) {
                    voice.stage = VoiceStage::Pedalled;
                } else {
                    voice.damp();
                }
            }
        }
    }
}

/// A voice whose key is down is worth more than one whose key is up; then the
/// louder one.
fn by_worth(a: &PianoVoice, b: &PianoVoice) -> std::cmp::Ordering {
    b.stage.cmp(&a.stage).then(a.peak.total_cmp(&b.peak))
}

impl Instrument for Piano {
    fn note_on(&mut self, channel: u8, key: KeyNumber, velocity: u8) {
        if velocity == 0 {
            return self.note_off(channel, key);
        }
        let Some(pedals) = self.pedals.get(usize::from(channel)).copied() else { return };
        let Some(recording) = self.nearest(key.number()) else { return };
        for voice in &mut self.voices {
            if (voice.channel, voice.key) == (channel, key.number())
                && voice.stage != VoiceStage::Leaving
            {
                voice.give_way();
            }
        }
        self.make_room();
        let velocity =
            if pedals.soft { (f32::from(velocity) * SOFT_PEDAL).max(1.0) as u8 } else { velocity };
        let stroke = (channel, key.number(), velocity);
        self.voices.push(PianoVoice::strike(
            recording,
            stroke,
            pedals.gain() * HEADROOM,
            self.rate as f32,
        ));
    }

    fn note_off(&mut self, channel: u8, key: KeyNumber) {
        self.release(channel, Some(key.number()));
    }

    fn control(&mut self, channel: u8, controller: u8, value: u8) {
        let Some(pedals) = self.pedals.get_mut(usize::from(channel)) else { return };
        let down = value >= 64;
        match controller {
            7 => pedals.set_volume(value),
            11 => pedals.set_expression(value),
            64 => {
                pedals.sustain = down;
                self.dampers(channel);
            }
            66 if down => {
                let undamped = self
                    .voices
                    .iter()
                    .filter(|v| v.channel == channel && v.stage < VoiceStage::Damped);
                pedals.sostenuto = undamped.fold(0, |keys, v| keys | 1 << v.key);
            }
            66 => {
                pedals.sostenuto = 0;
                self.dampers(channel);
            }
            67 => pedals.soft = down,
            120 => {
                self.voices.iter_mut().filter(|v| v.channel == channel).for_each(PianoVoice::cut)
            }
            121 => {
                pedals.reset();
                self.dampers(channel);
            }
            // All notes off, and the mode changes that imply it.
            123..=127 => self.release(channel, None),
            _ => {}
        }
    }

    fn render(&mut self, left: &mut [f32], right: &mut [f32]) {
        if self.awaited != 0 {
            self.look();
        }
        left.fill(0.0);
        right.fill(0.0);
        let pedals = &self.pedals;
        self.voices.retain_mut(|voice| {
            let gain = pedals.get(usize::from(voice.channel)).map_or(1.0, PianoPedals::gain);
            voice.render(gain * HEADROOM, left, right)
        });
    }

    fn rate(&self) -> u32 {
        self.rate
    }

    fn is_silent(&self) -> bool {
        self.voices.is_empty()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn render(piano: &mut Piano, frames: usize) {
        piano.render(&mut vec![0.0; frames], &mut vec![0.0; frames]);
    }

    fn staying(piano: &Piano) -> Vec<u8> {
        let stay = piano.voices.iter().filter(|voice| voice.stage != VoiceStage::Leaving);
        stay.map(|voice| voice.key).collect()
    }

    #[test]
    fn the_quietest_of_a_crowd_makes_room() {
        let mut piano = Piano::new(48_000);
        let strike = |piano: &mut Piano, n: usize, velocity| {
            piano.note_on(0, KeyNumber::clamped(24 + n as i32), velocity);
        };
        for n in 0..VOICES {
            strike(&mut piano, n, if n == 20 { 10 } else { 90 });
        }
        render(&mut piano, 480);
        assert_eq!(staying(&piano).len(), VOICES);
        strike(&mut piano, VOICES, 90);
        let left = staying(&piano);
        assert_eq!(left.len(), VOICES);
        assert!(!left.contains(&44), "the soft one leaves: {left:?}");
        assert!(left.contains(&(24 + VOICES as u8)), "the new one sounds: {left:?}");
        // It fades within a hundredth of a second, and its place is free again.
        render(&mut piano, 480);
        assert_eq!(piano.voices.len(), VOICES);
    }

    #[test]
    fn keys_that_are_down_outlast_keys_that_are_up() {
        let mut piano = Piano::new(48_000);
        piano.control(0, 64, 127);
        for n in 0..VOICES as i32 {
            let key = KeyNumber::clamped(24 + n);
            piano.note_on(0, key, if n == 3 { 20 } else { 90 });
            if n != 3 {
                piano.note_off(0, key);
            }
        }
        render(&mut piano, 480);
        piano.note_on(0, KeyNumber::clamped(100), 90);
        assert!(staying(&piano).contains(&27), "soft, but its key is down");
    }

    #[test]
    fn a_storm_of_strokes_never_outgrows_its_room() {
        let mut piano = Piano::new(48_000);
        let room = piano.voices.capacity();
        for n in 0..500 {
            piano.note_on((n % 16) as u8, KeyNumber::clamped(24 + n * 11 % 84), 90);
            assert!(piano.voices.len() <= VOICES + LEAVING);
        }
        assert_eq!(piano.voices.capacity(), room);
    }
}
