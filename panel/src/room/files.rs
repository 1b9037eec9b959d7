//! A list of folders and charts to choose a file from.

use std::path::{Path, PathBuf};

use egui::{Button, RichText, ScrollArea, Ui};

use super::scene::{FolderEntry, Studio};

/// The folder that is looked at, and what was in it.
pub struct FileList {
    folder: PathBuf,
    entries: Vec<FolderEntry>,
}

impl FileList {
    /// Looks at a folder.
    pub fn at(folder: PathBuf, studio: &dyn Studio) -> Self {
        let entries = studio.folder(&folder);
        Self { folder, entries }
    }

    /// Up, into folders, or a chart: its path is given.
    pub fn ui(&mut self, ui: &mut Ui, studio: &dyn Studio) -> Option<PathBuf> {
        let mut next = None;
        ui.horizontal_wrapped(|ui| {
            let above = self.folder.parent().map(Path::to_path_buf);
            if ui.add_enabled(above.is_some(), Button::new("Folder above")).clicked() {
                next = above;
            }
            ui.label(RichText::new(self.folder.display().to_string()).small());
        });
        let mut chosen = None;
        ScrollArea::vertical().id_salt("files").max_height(180.0).show(ui, |ui| {
            if self.entries.is_empty() {
                ui.label("No chart here (.txt, .musicxml, .mxl), and no folder.");
            }
            for entry in &self.entries {
                let name = match entry.is_folder {
                    true => format!("{}/", entry.name),
                    false => entry.name.clone(),
                };
                if ui.selectable_label(false, name).clicked() {
                    match entry.is_folder {
                        true => next = Some(entry.path.clone()),
                        false => chosen = Some(entry.path.clone()),
                    }
                }
            }
        });
        if let Some(folder) = next {
            *self = Self::at(folder, studio);
        }
        chosen
    }
}
