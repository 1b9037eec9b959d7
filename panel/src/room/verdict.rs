//! The verdict in words.

use egui::{RichText, Ui};

use super::scene::{JudgedRound, RoomScene, SittingState};
use crate::look::Palette;

/// The whole, in a sentence.
pub fn summary(ui: &mut Ui, scene: &RoomScene) {
    if let Some(judged) = judged(scene) {
        ui.label(RichText::new(&judged.words.summary).size(16.0).strong());
    }
}

/// Habits, places, and what to work on.
pub fn details(ui: &mut Ui, scene: &RoomScene, palette: &Palette) {
    if let Some(judged) = judged(scene) {
        let words = &judged.words;
        for said in words.habits.iter().chain(&words.advice) {
            ui.label(RichText::new(said).size(15.0));
        }
        for place in &words.work {
            ui.label(RichText::new(format!("• {place}")).color(palette.ink));
        }
    }
    if scene.state != SittingState::Playing {
        for said in &scene.said {
            ui.label(RichText::new(said).size(15.0).strong());
        }
    }
}

fn judged(scene: &RoomScene) -> Option<&JudgedRound> {
    scene.judged.as_deref().filter(|_| scene.state != SittingState::Playing)
}
