//! The look that the player chose, kept for the next time.

use std::path::PathBuf;

use sinistra_panel::look::LookChoice;

use crate::files;

fn path() -> Option<PathBuf> {
    let folders = directories::ProjectDirs::from("", "", "sinistra")?;
    Some(folders.config_dir().join("look.json"))
}

/// What was chosen the last time, if anything.
pub fn remembered() -> Option<LookChoice> {
    let read = || serde_json::from_slice::<LookChoice>(&std::fs::read(path()?).ok()?).ok();
    read().map(LookChoice::mended)
}

/// Keeps a choice; a disk that refuses costs no more than the choice.
pub fn remember(look: LookChoice) {
    let Some(path) = path() else { return };
    if let Some(folder) = path.parent() {
        let _ = std::fs::create_dir_all(folder);
    }
    if let Ok(text) = serde_json::to_vec(&look) {
        let _ = files::write(&path, &text, true);
    }
}
