//! The user's own SoundFont 2 file as an instrument.

mod riff;

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::sync::Arc;

use rustysynth::{SoundFont, Synthesizer, SynthesizerSettings};
use sinistra_core::pitch::KeyNumber;

use super::Instrument;
use crate::failure::Failure;
use crate::files;
use crate::quiet::hushed;

/// A file that was read and holds together.
#[derive(Clone)]
pub struct SoundFontFile {
    name: String,
    font: Arc<SoundFont>,
}

impl std::fmt::Debug for SoundFontFile {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_tuple("SoundFontFile").field(&self.name).finish()
    }
}

impl SoundFontFile {
    /// Reads a file.
    ///
    /// # Errors
    /// [`Failure::Input`], naming the file and what is wrong with it.
    pub fn open(path: &Path) -> Result<Self, Failure> {
        let bytes = files::read_up_to(path, sinistra_score::limits::SOUNDFONT)?;
        Self::read(&path.display().to_string(), &bytes)
    }

    /// The same from the bytes of a file `name`.
    pub fn read(name: &str, bytes: &[u8]) -> Result<Self, Failure> {
        riff::holds_together(bytes).map_err(|what| unplayable(name, what))?;
        // The library trusts the tables of a file; a spoiled one makes it panic.
        let read = || SoundFont::new(&mut { bytes });
        let font = hushed(|| catch_unwind(read))
            .map_err(|_| unplayable(name, "its tables contradict each other"))?
            .map_err(|e| unplayable(name, e))?;
        Ok(Self { name: name.to_owned(), font: Arc::new(font) })
    }
}

fn unplayable(name: &str, what: impl std::fmt::Display) -> Failure {
    Failure::Input(format!("{name}: not a SoundFont 2 file that can be played: {what}"))
}

/// A SoundFont's preset 0 on every channel.
pub struct SoundFontPlayer {
    synthesizer: Synthesizer,
    rate: u32,
    /// Frames since a note last could have sounded.
    quiet_frames: u64,
    /// It has failed on its own file, and is silent from then on.
    broken: bool,
}

/// Peak below which it counts as silent: −80 dB.
const SILENT: f32 = 1e-4;

impl SoundFontPlayer {
    /// `rate` is samples a second, 16,000..=192,000.
    ///
    /// # Errors
    /// [`Failure::Input`], naming the file, when the rate is beyond that.
    pub fn new(font: &SoundFontFile, rate: u32) -> Result<Self, Failure> {
        let settings = SynthesizerSettings::new(i32::try_from(rate).unwrap_or(48_000));
        let synthesizer =
            Synthesizer::new(&font.font, &settings).map_err(|e| unplayable(&font.name, e))?;
        Ok(Self { synthesizer, rate, quiet_frames: u64::MAX, broken: false })
    }

    fn send(&mut self, channel: u8, status: i32, first: u8, second: u8) {
        let [channel, first, second] = [channel & 15, first, second].map(i32::from);
        self.guarded(|synthesizer| {
            synthesizer.process_midi_message(channel, status, first, second);
        });
    }

    /// A spoiled file can make the library panic long after it was read; the
    /// sound then ends, and nothing else.
    fn guarded(&mut self, work: impl FnOnce(&mut Synthesizer)) {
        if !self.broken {
            let synthesizer = &mut self.synthesizer;
            self.broken = catch_unwind(AssertUnwindSafe(|| work(synthesizer))).is_err();
        }
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
        self.guarded(|synthesizer| synthesizer.render(left, right));
        if self.broken {
            left.fill(0.0);
            right.fill(0.0);
        }
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

#[cfg(test)]
mod tests;
