//! The last night: its set and its ports, for the next start.

use std::path::PathBuf;

use serde::{Deserialize, Serialize};

use super::SetupWords;
use crate::bridge::ports::Selector;
use crate::files;

/// What is kept from one start to the next.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", default)]
pub struct Last {
    /// The set-up file.
    pub setup: Option<PathBuf>,
    /// The song that was played, by its place from 1.
    pub song: Option<usize>,
    /// Keyboards.
    pub from: Vec<Selector>,
    /// Modules.
    pub to: Vec<Selector>,
    /// Loudness of the built-in piano.
    pub volume: Option<u8>,
}

const FILE: &str = "last.toml";

impl Last {
    /// What was kept, if anything; a set-up file that is gone is left out.
    pub fn read() -> Option<Self> {
        let text = files::read_text(&files::kept(FILE)?).ok()?;
        let last: Self = toml::from_str(&text).ok()?;
        Some(Self { setup: last.setup.filter(|file| file.is_file()), ..last })
    }

    /// Keeps it.
    pub fn keep(&self) {
        if let Ok(text) = toml::to_string(self) {
            files::keep(FILE, text.as_bytes());
        }
    }

    /// What was kept, as words that others go before.
    pub fn words(&self) -> SetupWords {
        let (from, to) = (self.from.clone(), self.to.clone());
        SetupWords { from, to, volume: self.volume, ..SetupWords::default() }
    }
}
