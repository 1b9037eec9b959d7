//! What the user chooses: the same words on the command line and in a file.

mod as_played;
mod file;
mod last;
mod place;
mod resolve;
mod words;

pub use as_played::as_played;
pub use file::{load, read, save};
pub use last::Last;
pub use resolve::resolve;
pub use words::{EntryWords, SetupWords, SystemName};
