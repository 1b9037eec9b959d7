//! Reading what the user named, and writing without losing anything of theirs.

use std::fs;
use std::io::Write;
use std::path::Path;

use crate::failure::Failure;

/// No MIDI file, chart or pattern of a person's is larger, in bytes.
const MOST: u64 = 64 * 1024 * 1024;

/// A file's bytes.
///
/// # Errors
/// If it cannot be read, or is larger than any score.
pub fn read(path: &Path) -> Result<Vec<u8>, Failure> {
    let name = path.display();
    let cannot = |e| Failure::Input(format!("{name}: cannot read it: {e}"));
    let about = fs::metadata(path).map_err(cannot)?;
    if about.is_dir() {
        return Err(Failure::Input(format!("{name}: this is a folder, not a file")));
    }
    if about.len() > MOST {
        return Err(Failure::Input(format!("{name}: larger than {} MB", MOST / 1024 / 1024)));
    }
    fs::read(path).map_err(cannot)
}

/// Refuses to write over a file that holds something, unless asked to.
///
/// # Errors
/// If there is such a file and not `force`, or `path` is a folder.
pub fn may_write(path: &Path, force: bool) -> Result<(), Failure> {
    let name = path.display();
    match fs::metadata(path) {
        Ok(about) if about.is_dir() => {
            Err(Failure::Input(format!("{name}: this is a folder, not a file")))
        }
        Ok(about) if about.is_file() && about.len() > 0 && !force => Err(Failure::Input(format!(
            "{name}: this file is there already\nhint: name another, or add --force to replace it"
        ))),
        _ => Ok(()),
    }
}

/// Writes all or nothing: a temporary file beside it, then a rename.
///
/// # Errors
/// As [`may_write`], or if the disk refuses.
pub fn write(path: &Path, bytes: &[u8], force: bool) -> Result<(), Failure> {
    may_write(path, force)?;
    let name = path.display();
    let cannot = |e: std::io::Error| Failure::Machine(format!("{name}: cannot write it: {e}"));
    // Devices and pipes cannot be renamed onto.
    if fs::metadata(path).is_ok_and(|about| !about.is_file()) {
        return fs::write(path, bytes).map_err(cannot);
    }
    let folder = match path.parent() {
        Some(folder) if folder.as_os_str().is_empty() => Path::new("."),
        Some(folder) => folder,
        None => Path::new("."),
    };
    let mut file = tempfile::NamedTempFile::new_in(folder).map_err(cannot)?;
    file.write_all(bytes).map_err(cannot)?;
    file.as_file().sync_all().map_err(cannot)?;
    #[cfg(unix)]
    {
        // A temporary file is its owner's alone; a score is as readable as any.
        use std::os::unix::fs::PermissionsExt;
        let _ = file.as_file().set_permissions(fs::Permissions::from_mode(0o644));
    }
    file.persist(path).map_err(|e| cannot(e.error))?;
    Ok(())
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn a_users_file_is_not_replaced_unasked() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("song.mid");
        write(&path, b"one", false).unwrap();
        assert!(matches!(write(&path, b"two", false), Err(Failure::Input(_))));
        assert_eq!(fs::read(&path).unwrap(), b"one");
        write(&path, b"two", true).unwrap();
        assert_eq!(fs::read(&path).unwrap(), b"two");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1, "no temporary file stays");
    }
}
