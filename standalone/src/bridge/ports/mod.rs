//! Ports: what is there, what is chosen, and keeping it connected.

mod choose;
mod keep;
mod system;
mod with_midir;

pub use choose::{Chosen, Selector, choose};
pub use keep::{Keeper, News};
pub use system::{CLIENT, Seen, System};
pub use with_midir::Midir;
