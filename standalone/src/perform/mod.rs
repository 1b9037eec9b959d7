//! What `perform` does with a performance: shows it, writes it, sounds it.

pub mod grid;
pub mod outputs;
