//! The verdict in words.

use egui::{RichText, Ui};

use super::scene::{Scene, SittingState};
use crate::look::Palette;

/// The whole first, then habits, places, and what to work on.
pub fn ui(ui: &mut Ui, scene: &Scene, palette: &Palette) {
    if scene.state == SittingState::Playing {
        return;
    }
    if let Some(judged) = &scene.judged {
        let words = &judged.words;
        ui.label(RichText::new(&words.summary).size(16.0).strong());
        for habit in &words.habits {
            ui.label(RichText::new(habit).size(15.0));
        }
        for advice in &words.advice {
            ui.label(RichText::new(advice).size(15.0));
        }
        for place in &words.work {
            ui.label(RichText::new(format!("• {place}")).color(palette.ink));
        }
    }
    for said in &scene.said {
        ui.label(RichText::new(said).size(15.0).strong());
    }
}
