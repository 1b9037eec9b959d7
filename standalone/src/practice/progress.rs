//! How far the learner is: one small file, written whole or not at all.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use crate::failure::Failure;
use crate::files;

/// Everything that is remembered.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Progress {
    /// The form of this file.
    version: u32,
    /// By exercise.
    exercises: BTreeMap<String, Entry>,
}

/// How far one exercise is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Entry {
    /// Felt beats a minute at which it is practised now.
    pub tempo: f64,
    /// The fastest clean round so far, felt beats a minute.
    pub cleanest: f64,
    /// Rounds played.
    pub rounds: u32,
    /// Clean ones among them.
    pub clean: u32,
    /// Seconds since 1970 of the last round.
    pub last: u64,
}

/// The form that this program writes.
const VERSION: u32 = 1;

impl Progress {
    /// The usual place, in the user's data folder; `None` if there is none.
    pub fn usual_path() -> Option<PathBuf> {
        let folders = directories::ProjectDirs::from("", "", "sinistra")?;
        Some(folders.data_dir().join("progress.json"))
    }

    /// Reads `path`; nothing remembered yet if it is not there.
    ///
    /// # Errors
    /// If it is there and cannot be understood: it is left as it is.
    pub fn read(path: &Path) -> Result<Self, Failure> {
        if !path.exists() {
            return Ok(Self { version: VERSION, ..Self::default() });
        }
        let bytes = files::read(path)?;
        let name = path.display();
        let progress: Self = serde_json::from_slice(&bytes).map_err(|e| {
            Failure::Input(format!(
                "{name}:{}:{}: not a progress file: {e}\n\
                 hint: move it away, or delete it with `sinistra practise --forget`",
                e.line(),
                e.column()
            ))
        })?;
        if progress.version > VERSION {
            return Err(Failure::Input(format!("{name}: written by a newer version of Sinistra")));
        }
        Ok(progress)
    }

    /// Writes all or nothing.
    ///
    /// # Errors
    /// If the disk refuses.
    pub fn write(&self, path: &Path) -> Result<(), Failure> {
        if let Some(folder) = path.parent() {
            std::fs::create_dir_all(folder).map_err(|e| {
                Failure::Machine(format!("{}: cannot make it: {e}", folder.display()))
            })?;
        }
        let text = serde_json::to_vec_pretty(&Self { version: VERSION, ..self.clone() })
            .map_err(|e| Failure::Machine(format!("{}: {e}", path.display())))?;
        files::write(path, &text, true)
    }

    /// How far an exercise is.
    pub fn of(&self, exercise: &str) -> Option<&Entry> {
        self.exercises.get(exercise)
    }

    /// Rounds played of an exercise, and the clean ones among them.
    pub fn rounds(&self, exercise: &str) -> (u32, u32) {
        self.of(exercise).map_or((0, 0), |entry| (entry.rounds, entry.clean))
    }

    /// Notes a round.
    pub fn note(&mut self, exercise: &str, tempo: f64, clean: bool, next_tempo: f64) {
        let entry = self.exercises.entry(exercise.to_owned()).or_default();
        entry.rounds = entry.rounds.saturating_add(1);
        if clean {
            entry.clean = entry.clean.saturating_add(1);
            entry.cleanest = entry.cleanest.max(tempo);
        }
        entry.tempo = next_tempo;
        let now = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH);
        entry.last = now.map_or(0, |since| since.as_secs());
    }

    /// A line an exercise.
    pub fn lines(&self) -> Vec<String> {
        let line = |(name, e): (&String, &Entry)| {
            let Entry { tempo, cleanest, rounds, clean, .. } = e;
            format!(
                "{name}: {clean} of {rounds} rounds clean, best {cleanest:.0}, now at {tempo:.0}"
            )
        };
        self.exercises.iter().map(line).collect()
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn what_is_written_reads_back_and_a_torn_file_is_not_overwritten() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("deep").join("progress.json");
        let mut progress = Progress::read(&path).unwrap();
        progress.note("Lantern Street, Fifths, C", 66.0, true, 70.0);
        progress.note("Lantern Street, Fifths, C", 70.0, false, 70.0);
        progress.write(&path).unwrap();
        let again = Progress::read(&path).unwrap();
        let entry = again.of("Lantern Street, Fifths, C").unwrap();
        assert_eq!((entry.rounds, entry.clean), (2, 1));
        assert!((entry.cleanest - 66.0).abs() < 1e-9 && (entry.tempo - 70.0).abs() < 1e-9);

        std::fs::write(&path, b"{\"version\":1,\"exer").unwrap();
        let said = Progress::read(&path).map_err(|failure| failure.to_string()).unwrap_err();
        assert!(said.contains("not a progress file"), "{said}");
        assert_eq!(std::fs::read(&path).unwrap().len(), 18, "left as it was");
    }
}
