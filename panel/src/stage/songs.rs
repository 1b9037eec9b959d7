//! The set list: jump, put in another order, keep.

use egui::{RichText, ScrollArea, Ui};

use super::buttons::{StageKey, TARGET, row};
use super::scene::{StageScene, StageWish};
use crate::look::Palette;

/// A row a song.
pub fn ui(ui: &mut Ui, scene: &StageScene, ask: &mut Vec<StageWish>) {
    if let Some(0) = row(ui, TARGET, &[StageKey::new("Save set and ports as a file", "")]) {
        ask.push(StageWish::Save);
    }
    if scene.songs.is_empty() {
        let text = "No set. A set-up file (--setup) names the songs of the evening; the song that \
                    is set up here can be saved as one.";
        ui.label(RichText::new(text).color(Palette::of(ui).faint));
        return;
    }
    let last = scene.songs.len() - 1;
    ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
        ui.set_width(ui.available_width() - 12.0); // beside the scroll bar
        for (n, name) in scene.songs.iter().enumerate() {
            let here = scene.at == Some(n);
            let keys = [
                StageKey::new(format!("{}  {name}", n + 1), "").lit(here).wide(6.0),
                StageKey::new("▲", "").only_if(n > 0),
                StageKey::new("▼", "").only_if(n < last),
            ];
            let pressed = ui.push_id(n, |ui| row(ui, TARGET + 4.0, &keys)).inner;
            match pressed {
                Some(0) => ask.push(StageWish::Song(n)),
                Some(1) => ask.push(StageWish::Move(n, n - 1)),
                Some(_) => ask.push(StageWish::Move(n, n + 1)),
                None => {}
            }
        }
    });
}
