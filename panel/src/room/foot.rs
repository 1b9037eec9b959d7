//! The foot of the practice window: cautions, what is missing, the look.

use egui::{Align, Layout, RichText, Ui};

use super::scene::{RoomScene, Studio};
use crate::look::{self, Palette};

/// A row, and one more while a break is due.
pub fn ui(ui: &mut Ui, scene: &RoomScene, palette: &Palette, studio: &mut dyn Studio) {
    if scene.rest && studio.preferences().breaks {
        let text = "Time for a break: shake out your hands, walk about for five minutes.";
        ui.label(RichText::new(text).size(16.0).strong().background_color(palette.mark));
    }
    for missing in &scene.missing {
        ui.label(RichText::new(format!("! {missing}")).color(palette.fault));
    }
    ui.horizontal_wrapped(|ui| {
        let caution = "Start quietly. Stop if anything hurts; a teacher's advice outranks ours.";
        ui.label(RichText::new(caution).color(palette.faint));
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            let before = studio.preferences();
            let mut now = before;
            now.look = look::chooser(ui, before.look).unwrap_or(before.look);
            ui.checkbox(&mut now.breaks, "Remind me of breaks");
            if now != before {
                studio.prefer(now);
            }
        });
    });
}
