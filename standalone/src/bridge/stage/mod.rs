//! The stage: everything between what was played and what is to be sent,
//! with no port and no clock in it.

mod block;
mod command;
mod listen;

mod report;
mod settings;
mod sink;
mod take;
mod wood_block;

pub use block::{KeyboardMessage, MOST_HEARD, Stage, Switched};
pub use command::{Command, SetEntry, SongSettings, StageOptions};
pub use report::{Ask, Report};
pub use settings::LeftHandWork;
pub use sink::{DueMessage, Sink, To};
