//! The CLAP: `wrapping` stands before the plugin that the framework made, `ports`
//! declares its note ports, `outlet` turns notes to the second.

mod entry;
mod outlet;
mod ports;
mod wrapping;
