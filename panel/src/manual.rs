//! The manual that the packages install.

use std::path::{Path, PathBuf};

/// Where it lies in a folder of documents.
const MANUAL: &str = "doc/sinistra/README.md";

/// The manual, where one is installed: by the system's package, or by the player who
/// copied the folders of the other.
#[must_use]
pub fn installed() -> Option<PathBuf> {
    let own = directories::BaseDirs::new().map(|dirs| dirs.data_local_dir().to_owned());
    first_in(own.into_iter().chain(["/usr/local/share", "/usr/share"].map(PathBuf::from)))
}

fn first_in(folders: impl Iterator<Item = impl AsRef<Path>>) -> Option<PathBuf> {
    folders.map(|folder| folder.as_ref().join(MANUAL)).find(|manual| manual.is_file())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_players_own_comes_first_and_none_is_none() {
        let home = std::env::temp_dir().join(format!("sinistra-manual-{}", std::process::id()));
        let [own, systems] = ["own", "system's"].map(|folder| home.join(folder));
        let both = || [&own, &systems].into_iter();
        assert_eq!(first_in(both()), None);
        for folder in [&systems, &own] {
            let manual = folder.join(MANUAL);
            std::fs::create_dir_all(manual.parent().expect("a folder")).expect("made");
            std::fs::write(&manual, "# Sinistra\n").expect("written");
            assert_eq!(first_in(both()), Some(manual));
        }
        std::fs::remove_dir_all(home).expect("removed");
    }
}
