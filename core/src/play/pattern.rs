//! A pattern: when the left hand plays, and what it would like to play there.

/// Compiled from a pattern file; fixed while it is in the engine.
#[derive(Clone, Debug, PartialEq)]
pub struct Pattern {
    /// As the player sees it.
    pub name: String,
}
