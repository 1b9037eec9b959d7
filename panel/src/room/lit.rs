//! The keys to be struck next, lit, while the player is waited for.

use egui::Ui;
use sinistra_core::key::Key;

use super::scene::{RoomScene, SittingState};
use crate::view::keyboard;
use sinistra_score::practice::RoundStage;

/// Points.
const HEIGHT: f32 = 84.0;

/// The keyboard; nothing at other times.
pub fn ui(ui: &mut Ui, scene: &RoomScene) {
    let waits = scene.act == RoundStage::Wait && scene.state == SittingState::Playing;
    if let Some(waiting) = scene.waiting.as_ref().filter(|_| waits) {
        let asked: Vec<_> = waiting.missing().collect();
        let low = super::is_low(ui);
        let key = scene.lesson.as_ref().map_or(Key::C_MAJOR, |lesson| lesson.exercise.key.key());
        keyboard::lit(ui, key, &asked, scene.down, if low { HEIGHT * 0.7 } else { HEIGHT });
    }
}
