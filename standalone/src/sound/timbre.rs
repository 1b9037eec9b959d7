//! Which instrument is to sound.

use std::path::{Path, PathBuf};

use super::{Instrument, Piano, SoundFontPlayer};
use crate::failure::Failure;

/// The piano that is built in, or the user's own SoundFont 2 file.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum Timbre {
    /// The sampled piano.
    #[default]
    Piano,
    /// The first preset of bank 0 (a piano in most files).
    SoundFont(PathBuf),
}

impl Timbre {
    /// What `--soundfont F.sf2`, given or not, asks for.
    pub fn from_option(soundfont: Option<&Path>) -> Self {
        soundfont.map_or(Self::Piano, |path| Self::SoundFont(path.to_path_buf()))
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

    /// An instrument at `rate` samples a second. Reads files and allocates.
    ///
    /// # Errors
    /// [`Failure::Input`] when the file is no SoundFont 2 that can be read.
    pub fn open(&self, rate: u32) -> Result<Box<dyn Instrument>, Failure> {
        Ok(match self {
            Self::Piano => Box::new(Piano::new(rate)),
            Self::SoundFont(path) => Box::new(SoundFontPlayer::open(path, rate)?),
        })
    }
}
