//! The engine: one block after another, hear → foresee → play → sound.

mod block;
mod settings;
mod snapshot;

pub use block::{Block, Message, Output, Played, Timed, Transport};
pub use settings::{KeyChoice, Settings};
pub use snapshot::{Heard, SlotView, Snapshot};

use crate::foresee::Song;
use crate::play::Pattern;

/// The left hand. Allocates in [`Engine::new`] and never after.
pub struct Engine {
    settings: Settings,
    pattern: Box<Pattern>,
    song: Option<Box<Song>>,
    snapshot: Snapshot,
}

impl Engine {
    /// A left hand at rest. Not for the audio thread: allocates.
    pub fn new(settings: Settings, pattern: Box<Pattern>) -> Self {
        Self { settings, pattern, song: None, snapshot: Snapshot::default() }
    }

    /// Plays one block. Never allocates, locks, logs or panics.
    pub fn process(&mut self, block: &Block<'_>, _out: &mut impl Output) {
        self.snapshot.playing = block.transport.playing;
    }

    /// From the next block on. Real-time safe.
    pub fn set(&mut self, settings: Settings) {
        self.settings = settings;
    }

    /// The present settings.
    pub fn settings(&self) -> &Settings {
        &self.settings
    }

    /// Takes a new pattern, gives the old one back to be dropped elsewhere.
    /// Real-time safe.
    #[must_use = "drop the old pattern off the audio thread"]
    pub fn swap_pattern(&mut self, pattern: Box<Pattern>) -> Box<Pattern> {
        std::mem::replace(&mut self.pattern, pattern)
    }

    /// Takes a new chart (or none), gives the old one back to be dropped
    /// elsewhere. Real-time safe.
    #[must_use = "drop the old chart off the audio thread"]
    pub fn swap_song(&mut self, song: Option<Box<Song>>) -> Option<Box<Song>> {
        std::mem::replace(&mut self.song, song)
    }

    /// Ends every note that sounds, at `frame` of the block to come: bypass,
    /// panic, shutdown. What `out` refuses stays owed. Real-time safe.
    pub fn silence(&mut self, _frame: u32, _out: &mut impl Output) {}

    /// Forgets the song so far (memory and key heard); what sounds goes on.
    /// Real-time safe.
    pub fn forget(&mut self) {}

    /// What to show. Real-time safe.
    pub fn snapshot(&self) -> &Snapshot {
        &self.snapshot
    }
}
