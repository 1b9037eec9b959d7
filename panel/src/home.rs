//! What the window asks of the home that opened it.

use std::path::PathBuf;

use sinistra_core::engine::Snapshot;
pub use sinistra_score::pattern::PatternCard;

use crate::control::{Control, Values};
use crate::host::{HostMark, HostMenuEntry};

/// What a home with ports of its own is connected to.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Connections {
    /// Instruments that are heard.
    pub from: Vec<String>,
    /// Instruments that are sent to.
    pub to: Vec<String>,
    /// Named, and not there.
    pub waits_for: Vec<String>,
    /// Messages that had to be given up.
    pub dropped: u32,
    /// Notes of the left hand that left more than 5 ms late.
    pub late: u64,
    /// What happened last, in a sentence; empty at first.
    pub said: String,
}

/// What the player writes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PlayersText {
    /// The song's chart.
    Chart,
    /// The player's own pattern.
    OwnPattern,
}

/// The plugin, the bridge or the practice room. Called from the window's
/// thread only, never from the audio thread.
pub trait Home {
    /// The state of the engine a moment ago.
    fn snapshot(&mut self) -> Snapshot;

    /// What every control is set to.
    fn values(&self) -> Values;

    /// Whether a control does anything here.
    fn offers(&self, _control: Control) -> bool {
        true
    }

    /// A control is taken hold of: hosts record what happens until [`Self::let_go`].
    fn take_hold(&mut self, _control: Control) {}

    /// Sets a control that was taken hold of.
    fn set(&mut self, control: Control, value: i32);

    /// A control is let go.
    fn let_go(&mut self, _control: Control) {}

    /// A whole gesture in one.
    fn at_once(&mut self, control: Control, value: i32) {
        self.take_hold(control);
        self.set(control, value);
        self.let_go(control);
    }

    /// What a host marks on a control beside its value.
    fn host_mark(&self, _control: Control) -> HostMark {
        HostMark::default()
    }

    /// Asks a host for its menu of a control; it comes when the host has said it.
    fn ask_menu(&mut self, _control: Control) {}

    /// That menu, once it has come; else nothing.
    fn menu(&self, _control: Control) -> Vec<HostMenuEntry> {
        Vec::new()
    }

    /// The entry of that menu with this number is chosen.
    fn choose(&mut self, _control: Control, _number: u32) {}

    /// The presets in teaching order.
    fn patterns(&self) -> Vec<PatternCard>;

    /// Where the player's own set-ups are; `None` where there is no such folder.
    fn set_ups(&self) -> Option<PathBuf> {
        None
    }

    /// A text as the player wrote it.
    fn text(&self, which: PlayersText) -> String;

    /// Lays down a text. One with faults is kept as written; what was played
    /// before goes on.
    fn set_text(&mut self, which: PlayersText, text: &str);

    /// An edit of a text is over: hosts take it for one step that can be undone.
    fn edited(&mut self) {}

    /// Writes the last `bars` bars of both hands to a new MIDI file, and beside it what
    /// they are practised from: chart, pattern and sheet.
    ///
    /// # Errors
    /// What went wrong, for the player to read.
    fn keep(&mut self, bars: usize) -> Result<PathBuf, String>;

    /// By how many seconds the right hand sounds late, so that the left hand
    /// knows what comes; 0 where there is no such look-ahead.
    fn delay(&self) -> f64 {
        0.0
    }

    /// What it is connected to; `None` where somebody else connects, as a
    /// host does.
    fn wiring(&self) -> Option<Connections> {
        None
    }

    /// The look that the player chose.
    fn look(&self) -> crate::look::LookChoice;

    /// Remembers the look.
    fn set_look(&mut self, look: crate::look::LookChoice);
}
