//! What the user chooses: the same words on the command line and in a file.

mod file;
mod place;
mod resolve;
mod words;

pub use file::{load, save};
pub use resolve::{metre, resolve};
pub use words::{EntryWords, SetupWords, SystemName};
