//! Ports: what is there, what is chosen, and keeping it connected.

mod choose;
mod keep;
mod system;
mod with_jack;
mod with_midir;

pub use choose::{ChosenPorts, Selector, choose, is_own};
pub use keep::{Keeper, PortNews, stem};
pub use system::{CLIENT, MidiSystem, SeenPort};
pub use with_jack::{JackPorts, client, is_there as jack_is_there, ports as jack_ports, seen};
pub use with_midir::Midir;
