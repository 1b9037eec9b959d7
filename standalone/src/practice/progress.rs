//! The learner's progress as one small file, written whole or not at all.

use std::path::{Path, PathBuf};

use sinistra_score::practice::Progress;

use crate::failure::Failure;
use crate::files;

/// The usual place, in the user's data folder; `None` if there is none.
pub fn usual_path() -> Option<PathBuf> {
    let folders = directories::ProjectDirs::from("", "", "sinistra")?;
    Some(folders.data_dir().join("progress.json"))
}

/// Reads `path`; nothing remembered yet if it is not there.
///
/// # Errors
/// If it is there and cannot be understood: it is left as it is.
pub fn read(path: &Path) -> Result<Progress, Failure> {
    if !path.exists() {
        return Ok(Progress::new());
    }
    parse(&path.display().to_string(), &files::read(path)?)
}

/// Reads the bytes of a progress file `name`.
///
/// # Errors
/// If it cannot be understood.
pub fn parse(name: &str, bytes: &[u8]) -> Result<Progress, Failure> {
    let progress: Progress = serde_json::from_slice(bytes).map_err(|e| {
        Failure::Input(format!(
            "{name}:{}:{}: not a progress file: {e}\n\
             hint: keep a copy of it, and name another with --progress",
            e.line(),
            e.column()
        ))
    })?;
    if progress.is_newer() {
        return Err(Failure::Input(format!("{name}: written by a newer version of Sinistra")));
    }
    Ok(progress)
}

/// Writes all or nothing.
///
/// # Errors
/// If the disk refuses.
pub fn write(progress: &Progress, path: &Path) -> Result<(), Failure> {
    if let Some(folder) = path.parent() {
        std::fs::create_dir_all(folder)
            .map_err(|e| Failure::Machine(format!("{}: cannot make it: {e}", folder.display())))?;
    }
    let text = serde_json::to_vec_pretty(progress)
        .map_err(|e| Failure::Machine(format!("{}: {e}", path.display())))?;
    files::write(path, &text, true)
}

/// Seconds since 1970.
pub fn now() -> u64 {
    let since = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH);
    since.map_or(0, |since| since.as_secs())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_written_reads_back_and_a_torn_file_is_not_overwritten() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("deep").join("progress.json");
        let mut progress = read(&path).unwrap();
        progress.note("Lantern Street, Fifths, C", 66.0, true, 70.0, now());
        progress.note("Lantern Street, Fifths, C", 70.0, false, 70.0, now());
        write(&progress, &path).unwrap();
        let again = read(&path).unwrap();
        let entry = again.of("Lantern Street, Fifths, C").unwrap();
        assert_eq!((entry.rounds, entry.clean), (2, 1));
        assert!((entry.cleanest - 66.0).abs() < 1e-9 && (entry.tempo - 70.0).abs() < 1e-9);

        std::fs::write(&path, b"{\"version\":1,\"exer").unwrap();
        let said = read(&path).map_err(|failure| failure.to_string()).unwrap_err();
        assert!(said.contains("not a progress file"), "{said}");
        assert_eq!(std::fs::read(&path).unwrap().len(), 18, "left as it was");
    }
}
