//! What was kept last: where it is, and the ways there.

use std::path::PathBuf;

use egui::{CursorIcon, Label, RichText, Sense, Ui};

use crate::drag;
use crate::look::Palette;

/// Where takes, choruses and sets are kept: `Sinistra` in the player's music folder, or
/// in the home folder where there is none.
///
/// # Errors
/// If there is no home folder, in a sentence for the player.
pub fn music_folder() -> Result<PathBuf, String> {
    let user = directories::UserDirs::new().ok_or("No home folder was found to keep it in.")?;
    Ok(user.audio_dir().unwrap_or(user.home_dir()).join("Sinistra"))
}

/// Bars that are kept where nothing else is chosen.
pub const KEPT_BARS: usize = 8;

/// How the last keeping went.
#[derive(Default)]
pub struct Kept(Option<Result<PathBuf, String>>);

impl Kept {
    /// Something was kept, or could not be.
    pub fn now(&mut self, kept: Result<PathBuf, String>) {
        self.0 = Some(kept);
    }

    /// The path, and what can be done with it; the fault, if there was one.
    pub fn ui(&mut self, ui: &mut Ui, palette: &Palette) {
        match &self.0 {
            Some(Ok(path)) => {
                let name = path.display().to_string();
                let label = RichText::new(&name).small();
                if drag::POSSIBLE {
                    let label =
                        ui.add(Label::new(label).extend().selectable(false).sense(Sense::drag()));
                    let label = label.on_hover_cursor(CursorIcon::Grab);
                    if label.dragged() {
                        let taken = drag::would_be_taken();
                        let icon = if taken { CursorIcon::Copy } else { CursorIcon::Grabbing };
                        ui.ctx().set_cursor_icon(icon);
                        ui.ctx().request_repaint(); // it may change under a mouse at rest
                    }
                    if label.on_hover_text("Drag it into a track.").drag_started() {
                        drag::begin(path);
                    }
                } else {
                    ui.label(label);
                }
                if ui.small_button("Copy the path").clicked() {
                    ui.ctx().copy_text(name);
                }
                if ui.small_button("Show the folder").clicked()
                    && let Err(why) = open::that_detached(path.parent().unwrap_or(path))
                {
                    self.0 = Some(Err(format!("The folder cannot be shown: {why}")));
                }
            }
            Some(Err(why)) => {
                ui.label(RichText::new(format!("! {why}")).color(palette.fault));
            }
            None => {}
        }
    }
}
