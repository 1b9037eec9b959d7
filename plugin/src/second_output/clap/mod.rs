//! The CLAP: `wrapping` stands before the plugin that the framework made, `ports`
//! declares its note ports, `outlet` turns notes to the second.

mod entry;
mod outlet;
mod ports;
mod wrapping;

use std::cell::Cell;

thread_local! {
    static BEING_MADE: Cell<bool> = const { Cell::new(false) };
}

/// Whether the plugin that this thread makes just now is a CLAP, and so has two
/// outputs.
pub fn being_made() -> bool {
    BEING_MADE.get()
}
