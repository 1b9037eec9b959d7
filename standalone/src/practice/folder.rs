//! What a folder has to choose from.

use std::path::Path;

use sinistra_panel::room::FolderEntry;

/// So much of a folder is looked at.
const MOST: usize = 1000;
/// Files that may be charts.
const CHARTS: [&str; 4] = ["txt", "musicxml", "xml", "mxl"];

/// Folders first, then charts, by name; hidden ones are left out.
pub fn look(path: &Path) -> Vec<FolderEntry> {
    let Ok(entries) = std::fs::read_dir(path) else { return Vec::new() };
    let mut found: Vec<FolderEntry> = entries
        .filter_map(Result::ok)
        .take(MOST)
        .filter_map(|entry| {
            let (name, path) = (entry.file_name().to_string_lossy().into_owned(), entry.path());
            let is_folder = path.is_dir();
            let ending = path.extension().map(|ending| ending.to_string_lossy().to_lowercase());
            let chart = ending.is_some_and(|ending| CHARTS.contains(&ending.as_str()));
            let shown = !name.starts_with('.') && (is_folder || chart);
            shown.then_some(FolderEntry { name, path, is_folder })
        })
        .collect();
    found.sort_by_key(|entry| (!entry.is_folder, entry.name.to_lowercase()));
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn folders_come_first_and_nothing_but_charts() {
        let folder = tempfile::tempdir().unwrap();
        for name in ["b.txt", "A.MusicXML", "take.mid", ".hidden.txt"] {
            std::fs::write(folder.path().join(name), "").unwrap();
        }
        std::fs::create_dir(folder.path().join("songs")).unwrap();
        let names: Vec<_> = look(folder.path()).into_iter().map(|entry| entry.name).collect();
        assert_eq!(names, ["songs", "A.MusicXML", "b.txt"]);
        assert!(look(Path::new("/no/such/folder")).is_empty());
    }
}
