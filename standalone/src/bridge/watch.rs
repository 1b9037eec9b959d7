//! Files that change on the disk while they are played from.

use std::path::{Path, PathBuf};
use std::time::SystemTime;

use super::setup::SetupWords;

type Stamp = Option<(SystemTime, u64)>;

/// The files, each as it was when it was read.
#[derive(Debug, Default)]
pub struct FileWatch(Vec<(PathBuf, Stamp)>);

impl FileWatch {
    /// Every file that the set comes from, as it is now.
    pub fn over(setup: Option<&Path>, words: &SetupWords) -> Self {
        let entries = words.entry.iter().flat_map(|e| [&e.chart, &e.pattern, &e.intro]).flatten();
        let named = words.chart.iter().chain(&words.pattern).chain(entries).map(PathBuf::from);
        let files = setup.map(Path::to_path_buf).into_iter().chain(named);
        let mut all: Vec<_> = files.filter(|file| file.is_file()).collect();
        all.sort();
        all.dedup();
        Self(all.into_iter().map(|file| (file.clone(), stamp(&file))).collect())
    }

    /// Those that changed since the last question. One that is gone, as it is for a
    /// moment while some editors write, stays as it was read.
    pub fn changed(&mut self) -> Vec<PathBuf> {
        let mut changed = Vec::new();
        for (file, before) in &mut self.0 {
            let now = stamp(file);
            if now.is_some() && now != *before {
                *before = now;
                changed.push(file.clone());
            }
        }
        changed
    }
}

fn stamp(file: &Path) -> Stamp {
    let about = std::fs::metadata(file).ok()?;
    Some((about.modified().ok()?, about.len()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_that_is_written_anew_is_told_of_once() {
        let folder = tempfile::tempdir().expect("a folder");
        let chart = folder.path().join("a.txt");
        std::fs::write(&chart, "| C |").expect("written");
        let words =
            SetupWords { chart: vec![chart.display().to_string()], ..SetupWords::default() };
        let mut watch = FileWatch::over(None, &words);
        assert!(watch.changed().is_empty());
        std::fs::write(&chart, "| C | G |").expect("written");
        assert_eq!(watch.changed(), std::slice::from_ref(&chart));
        assert!(watch.changed().is_empty());
        std::fs::remove_file(&chart).expect("gone");
        assert!(watch.changed().is_empty(), "for a moment, or for ever");
    }
}
