//! A studio without a sitting, for the practice window in tests and in pictures.

use std::path::{Path, PathBuf};

use sinistra_core::pitch::KeyNumber;
use sinistra_panel::room::{FolderEntry, Pick, Preferences, RoomScene, Studio};
use sinistra_score::practice::Answer;

/// A sitting that notes down what the window asks.
#[derive(Default)]
pub struct Shop {
    pub scene: RoomScene,
    pub wishes: Vec<Answer>,
    pub picks: Vec<Pick>,
    pub keys: Vec<(KeyNumber, bool)>,
    pub kept: usize,
    pub likes: Preferences,
}

impl Studio for Shop {
    fn scene(&mut self) -> RoomScene {
        self.scene.clone()
    }
    fn wish(&mut self, wish: Answer) {
        self.wishes.push(wish);
    }
    fn pick(&mut self, pick: Pick) {
        self.picks.push(pick);
    }
    fn play_key(&mut self, key: KeyNumber, down: bool) {
        self.keys.push((key, down));
    }
    fn folder(&self, _: &Path) -> Vec<FolderEntry> {
        let entry = |name: &str, is_folder| FolderEntry {
            name: name.into(),
            path: PathBuf::from("/songs").join(name),
            is_folder,
        };
        vec![entry("old", true), entry("evening.txt", false)]
    }
    fn first_folder(&self) -> PathBuf {
        PathBuf::from("/songs")
    }
    fn keep(&mut self) -> Result<PathBuf, String> {
        self.kept += 1;
        Ok(PathBuf::from(format!("/music/Chorus {}.svg", self.kept)))
    }
    fn preferences(&self) -> Preferences {
        self.likes
    }
    fn prefer(&mut self, preferences: Preferences) {
        self.likes = preferences;
    }
}
