//! Between the running bridge and its window: what is seen, and what is wished.
//! The window holds no lock that the stage waits for.

use std::sync::Arc;
use std::sync::mpsc::{Receiver, Sender, channel};

use parking_lot::Mutex;
use sinistra_core::engine::{Settings, Snapshot};
use sinistra_panel::home::Connections;
use sinistra_panel::stage::{StageScene, StageWish};
use sinistra_panel::take::TakeLog;

use super::stage::{Command, LeftHandWork};

/// What the window shows.
#[derive(Clone, Debug, Default)]
pub struct PaneContents {
    /// The engine's.
    pub snapshot: Snapshot,
    /// The text of the chart and the name of the pattern of the entry that is played.
    pub entry: (Option<String>, Option<String>),
    /// The pattern that a control chose since.
    pub chosen: Option<&'static str>,
    /// Grows with each change of the entry.
    pub changes: u64,
    /// The settings, the tempo and what the left hand does, as they were last
    /// turned, by whatever means.
    pub turned: Option<Turned>,
    /// Ports, what was lost, and what happened last.
    pub wiring: Connections,
    /// Time, the set, ports with their lights.
    pub scene: StageScene,
}

/// What the window sends the bridge for.
#[derive(Debug)]
pub enum Errand {
    /// Ready for the stage.
    Stage(Command),
    /// A button's wish, as it is.
    Wish(StageWish),
    /// Keeps set and ports as a file; with the chart and the pattern as they are in
    /// the window.
    Save(Written),
}

/// What was written in the window.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Written {
    /// The chart's text; empty for none.
    pub chart: String,
    /// The pattern by its name; the player's own has none.
    pub pattern: Option<String>,
}

/// What can be turned under the hands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Turned {
    /// The engine's.
    pub settings: Settings,
    /// The tempo that is set, quarter notes a minute.
    pub tempo: f64,
    /// What the left hand does.
    pub left: LeftHandWork,
}

/// The bridge's side.
pub struct Pane {
    /// To be looked at.
    pub seen: Arc<Mutex<PaneContents>>,
    pub errands: Receiver<Errand>,
    /// Both hands, for takes.
    pub log: Arc<TakeLog>,
}

/// The window's side.
pub struct StagePane {
    /// To be looked at.
    pub seen: Arc<Mutex<PaneContents>>,
    pub errands: Sender<Errand>,
    /// Both hands, for takes.
    pub log: Arc<TakeLog>,
}

/// Both sides.
pub fn pane() -> (Pane, StagePane) {
    let seen = Arc::new(Mutex::new(PaneContents::default()));
    let (send, errands) = channel();
    let log = Arc::<TakeLog>::default();
    let view = StagePane { seen: seen.clone(), errands: send, log: log.clone() };
    (Pane { seen, errands, log }, view)
}
