//! The user's own SoundFont 2 file as an instrument.

use std::fs::File;
use std::io::BufReader;
use std::path::Path;
use std::sync::Arc;

use rustysynth::{SoundFont, Synthesizer, SynthesizerSettings};
use sinistra_core::pitch::KeyNumber;

use super::Instrument;
use crate::failure::Failure;

/// A SoundFont's preset 0 on every channel.
pub struct SoundFontPlayer {
    synthesizer: Synthesizer,
    rate: u32,
    /// Frames since a note last could have sounded.
    quiet_frames: u64,
}

/// Peak below which it counts as silent: −80 dB.
const SILENT: f32 = 1e-4;

impl SoundFontPlayer {
    /// Reads a file; `rate` is samples a second, 16,000..=192,000.
    ///
    /// # Errors
    /// [`Failure::Input`], naming the file and what is wrong with it.
    pub fn open(path: &Path, rate: u32) -> Result<Self, Failure> {
        let wrong = |what: String| Failure::Input(format!("{}: {what}", path.display()));
        let file = File::open(path).map_err(|e| wrong(format!("cannot be read: {e}")))?;
        let font = SoundFont::new(&mut BufReader::new(file))
            .map_err(|e| wrong(format!("not a SoundFont 2 file that can be played: {e}")))?;
        let settings = SynthesizerSettings::new(i32::try_from(rate).unwrap_or(48_000));
        let synthesizer = Synthesizer::new(&Arc::new(font), &settings)
            .map_err(|e| wrong(format!("cannot be played: {e}")))?;
        Ok(Self { synthesizer, rate, quiet_frames: u64::MAX })
    }

    fn send(&mut self, channel: u8, status: i32, first: u8, second: u8) {
        self.synthesizer.process_midi_message(
            i32::from(channel & 15),
            status,
            i32::from(first),
            i32::from(second),
        );
    }
}

impl Instrument for SoundFontPlayer {
    fn note_on(&mut self, channel: u8, key: KeyNumber, velocity: u8) {
        self.quiet_frames = 0;
        self.send(channel, 0x90, key.number(), velocity);
    }

    fn note_off(&mut self, channel: u8, key: KeyNumber) {
        self.send(channel, 0x80, key.number(), 0);
    }

    fn control(&mut self, channel: u8, controller: u8, value: u8) {
        self.send(channel, 0xB0, controller, value);
    }

    fn render(&mut self, left: &mut [f32], right: &mut [f32]) {
        let frames = left.len().min(right.len());
        let (Some(left), Some(right)) = (left.get_mut(..frames), right.get_mut(..frames)) else {
            return;
        };
        self.synthesizer.render(left, right);
        if left.iter().chain(&*right).all(|sample| sample.abs() < SILENT) {
            self.quiet_frames = self.quiet_frames.saturating_add(frames as u64);
        } else {
            self.quiet_frames = 0;
        }
    }

    fn rate(&self) -> u32 {
        self.rate
    }

    fn is_silent(&self) -> bool {
        self.quiet_frames > u64::from(self.rate) / 2
    }
}
