//! The look that the player chose, kept for the next time.

use sinistra_panel::look::LookChoice;

use crate::files;

const FILE: &str = "look.json";

/// What was chosen the last time, if anything.
pub fn remembered() -> Option<LookChoice> {
    let text = std::fs::read(files::kept(FILE)?).ok()?;
    serde_json::from_slice(&text).ok().map(LookChoice::mended)
}

/// Keeps a choice.
pub fn remember(look: LookChoice) {
    if let Ok(text) = serde_json::to_vec(&look) {
        files::keep(FILE, &text);
    }
}
