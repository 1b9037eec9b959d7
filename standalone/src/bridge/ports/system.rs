//! What a MIDI system must be able to do for us.

use crate::bridge::hub::BoxedWire;
use crate::bridge::intake::Intake;

/// The name under which others see us.
pub const CLIENT: &str = "Sinistra";

/// A port that is there now.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct SeenPort {
    /// The system's own name for it, unique while it is there.
    pub id: String,
    /// For people.
    pub name: String,
}

/// Keeps an input open until it is dropped.
pub trait Closer: Send {}
impl<T: Send> Closer for T {}

/// A MIDI system. Every fault is one sentence.
pub trait MidiSystem: Send {
    /// Ports to hear from, then ports to send to, in the system's order.
    fn ports(&mut self) -> Result<(Vec<SeenPort>, Vec<SeenPort>), String>;

    /// Hears from `port`, or from a port of our own that others may use.
    fn hear(&mut self, port: Option<&SeenPort>, intake: Intake) -> Result<Box<dyn Closer>, String>;

    /// Sends to `port`, or to whoever uses a port of our own.
    fn send(&mut self, port: Option<&SeenPort>) -> Result<BoxedWire, String>;
}
