//! Which instrument is to sound.

use std::path::Path;

use super::soundfont::SoundFontFile;
use super::{Instrument, Piano, SoundFontPlayer};
use crate::failure::Failure;

/// The piano that is built in, or the user's own SoundFont 2 file.
#[derive(Clone, Debug, Default)]
pub enum Timbre {
    /// The sampled piano.
    #[default]
    Piano,
    /// The first preset of bank 0 (a piano in most files).
    SoundFont(SoundFontFile),
}

impl Timbre {
    /// What `--soundfont F.sf2`, given or not, asks for. Reads the file: commands do so
    /// before they ask a device for anything, so that a wrong file is told of everywhere.
    ///
    /// # Errors
    /// [`Failure::Input`] when the file is no SoundFont 2 that can be read.
    pub fn from_option(soundfont: Option<&Path>) -> Result<Self, Failure> {
        Ok(match soundfont {
            Some(path) => Self::SoundFont(SoundFontFile::open(path)?),
            None => Self::Piano,
        })
    }

    /// The same to be played live: the piano sounds before all of it is decoded.
    ///
    /// # Errors
    /// As [`Self::open`].
    pub fn open_live(&self, rate: u32) -> Result<Box<dyn Instrument>, Failure> {
        match self {
            Self::Piano => Ok(Box::new(Piano::starting(rate))),
            Self::SoundFont(_) => self.open(rate),
        }
    }

    /// An instrument at `rate` samples a second. Allocates.
    ///
    /// # Errors
    /// [`Failure::Input`] when the SoundFont cannot be played at this rate.
    pub fn open(&self, rate: u32) -> Result<Box<dyn Instrument>, Failure> {
        Ok(match self {
            Self::Piano => Box::new(Piano::new(rate)),
            Self::SoundFont(font) => Box::new(SoundFontPlayer::new(font, rate)?),
        })
    }
}
