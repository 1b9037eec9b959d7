//! What the window on stage shows, and what it asks of the bridge.

use crate::home::Home;

sinistra_core::named! {
    /// What leads the beat.
    #[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
    pub enum Leads {
        /// A clock of our own.
        #[default]
        Own = "Own tempo",
        /// The player's hand.
        Hand = "My playing",
        /// MIDI clock.
        Midi = "MIDI clock",
    }
    /// On its button.
    name
}

sinistra_core::named! {
    /// What the left hand does.
    #[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
    #[allow(missing_docs, reason = "their names say it")]
    pub enum Left {
        #[default]
        Plays = "Plays",
        Roots = "Roots",
        Rests = "Rests",
    }
    /// On its button.
    name
}

/// A port that is there, or was named.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Port {
    /// As the system shows it.
    pub name: String,
    /// Whether it is heard, or sent to.
    pub open: bool,
    /// Whether a message came or went just now.
    pub active: bool,
}

/// A message that came or went.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Passed {
    /// Sent, not heard.
    pub sent: bool,
    /// In words and bytes.
    pub text: String,
}

/// Something that a control can do.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ControlLine {
    /// As set-up files have it.
    pub does: String,
    /// The controls that do it; empty for none.
    pub moved_by: String,
    /// The next control that is moved will do it.
    pub waits: bool,
}

/// Everything there is to show beside the music; copied for each frame.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct StageScene {
    /// Whether beats go by.
    pub moves: bool,
    /// Quarter notes a minute.
    pub tempo: f64,
    /// What leads the beat.
    pub leads: Leads,
    /// What the left hand does.
    pub left: Left,
    /// It plays an octave lower.
    pub octave_drop: bool,
    /// It goes on without the right.
    pub holds: bool,
    /// The metronome is heard all the time.
    pub clicks: bool,
    /// Loudness of the built-in piano, 0..=100, if it is played on.
    pub piano: Option<u8>,
    /// Loudness of the metronome in percent.
    pub metronome: u8,
    /// Names of the songs of the set.
    pub songs: Vec<String>,
    /// The one that is played.
    pub at: Option<usize>,
    /// Bars of its chart.
    pub bars: Option<i64>,
    /// What could be heard.
    pub inputs: Vec<Port>,
    /// What could be sent to.
    pub outputs: Vec<Port>,
    /// The last messages, the newest last.
    pub passed: Vec<Passed>,
    /// Where each hand sounds, and how, in words.
    pub zones: Vec<String>,
    /// What controls can do, and which does it.
    pub controls: Vec<ControlLine>,
    /// Whether the window fills the screen; `None` where it cannot.
    pub full_screen: Option<bool>,
}

/// What can be turned at a zone.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs, reason = "their names say it")]
pub enum Turn {
    Up,
    Down,
    OctaveUp,
    OctaveDown,
    /// The next curve of velocities.
    Touch,
    /// The next channel.
    Channel,
}

/// What the player wants.
#[derive(Clone, Debug, PartialEq)]
#[allow(missing_docs, reason = "their names say it")]
pub enum StageWish {
    StartOrStop,
    Tap,
    /// Quarter notes a minute.
    Tempo(f64),
    Lead(Leads),
    Panic,
    Left(Left),
    OctaveDrop,
    Hold,
    Clicks,
    /// 0..=100.
    Piano(u8),
    /// Percent.
    Metronome(u8),
    Next,
    Previous,
    /// This song of the set, from 0.
    Song(usize),
    /// The song at the first place goes to the second.
    Move(usize, usize),
    /// Whether the port of this name is heard.
    Hear(String, bool),
    /// Whether the port of this name is sent to.
    SendTo(String, bool),
    /// The zone at this place is turned so.
    Zone(usize, Turn),
    AddZone,
    /// The next control that is moved does what the line at this place says.
    Learn(usize),
    RemoveZone(usize),
    /// Keep set and ports as a file.
    Save,
    FullScreen,
}

/// The bridge that opened the window. Called from the window's thread only;
/// nothing here waits for the thread that plays.
pub trait OnStage: Home {
    /// The bridge a moment ago.
    fn scene(&mut self) -> StageScene;
    /// Tells it what the player wants.
    fn wish(&mut self, wish: StageWish);
}
