//! What the bridge shows while it plays.

mod json;
mod lines;
mod log;
mod screen;

pub use json::Json;
pub use lines::Lines;
pub use log::LogFile;
pub use screen::{KEYS as TERMINAL_KEYS, Screen};

use super::controls::Action;
use super::run::Look;
use super::stage::Report;

/// A place where news are shown.
pub trait Show {
    /// Something to be told in words: a port, a fault, a control.
    fn say(&mut self, words: &str);
    /// News from the stage.
    fn report(&mut self, report: &Report);
    /// The stage as it is now.
    fn look(&mut self, look: &Look, about: &About);
    /// What was pressed on the computer's keyboard.
    fn pressed(&mut self) -> Vec<Pressed> {
        Vec::new()
    }
}

/// A key of the computer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pressed {
    /// Does what a control would do.
    Does(Action),
    /// Keeps what was just played.
    Keep,
    /// Ends the bridge.
    End,
}

/// What the stage does not know.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct About {
    /// The entry of the set that is played.
    pub entry: Option<String>,
    /// What is heard and sent to.
    pub ports: (Vec<String>, Vec<String>),
    /// Messages that were given up.
    pub dropped: u32,
    /// Left-hand notes sent more than 5 ms late.
    pub late: u64,
}

/// Shows nothing.
pub struct Quiet;

impl Show for Quiet {
    fn say(&mut self, _: &str) {}
    fn report(&mut self, _: &Report) {}
    fn look(&mut self, _: &Look, _: &About) {}
}
