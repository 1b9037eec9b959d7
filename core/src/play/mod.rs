//! Play: pattern (when) + ruleset (which tone) + voicing (which key).

mod pattern;
mod role;

pub use pattern::Pattern;
pub use role::Role;
