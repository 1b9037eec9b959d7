//! Folders, made, copied and taken away; what went wrong names its place.

use std::fs;
use std::path::{Path, PathBuf};

use crate::steps::Done;

/// The names in a folder, in order.
pub fn names(folder: &Path) -> Result<Vec<String>, String> {
    let read = fs::read_dir(folder).map_err(|e| format!("{}: {e}", folder.display()))?;
    let mut names: Vec<String> =
        read.flatten().map(|entry| entry.file_name().to_string_lossy().into_owned()).collect();
    names.sort();
    Ok(names)
}

/// A file, or a folder with all that is in it.
pub fn copy(from: &Path, to: &Path) -> Done {
    if !from.is_dir() {
        make(to.parent().unwrap_or(to))?;
        return fs::copy(from, to).map(|_| ()).map_err(|e| format!("{}: {e}", from.display()));
    }
    make(to)?;
    for name in names(from)? {
        let (from, to): (PathBuf, PathBuf) = (from.join(&name), to.join(&name));
        copy(&from, &to)?;
    }
    Ok(())
}

/// A file, and the folders that it lies in.
pub fn write(to: &Path, text: impl AsRef<[u8]>) -> Done {
    make(to.parent().unwrap_or(to))?;
    fs::write(to, text).map_err(|e| format!("{}: {e}", to.display()))
}

/// The folder, and those that it lies in.
pub fn make(folder: &Path) -> Done {
    fs::create_dir_all(folder).map_err(|e| format!("{}: {e}", folder.display()))
}

/// A file or a whole folder, if it is there.
pub fn remove(path: &Path) -> Done {
    match fs::symlink_metadata(path) {
        Ok(found) if found.is_dir() => fs::remove_dir_all(path),
        Ok(_) => fs::remove_file(path),
        Err(_) => Ok(()),
    }
    .map_err(|e| format!("{}: {e}", path.display()))
}

/// An empty folder, whatever was there.
pub fn anew(folder: &Path) -> Done {
    remove(folder)?;
    make(folder)
}
