//! Large buttons, to be hit from the piano stool.

use egui::{Button, Color32, FontId, RichText, Ui, vec2};
use sinistra_score::practice::{Answer, RoundStage};

use super::keys::{HEAR_YOURSELF, KEYS};
use super::scene::{RoomScene, SittingState, Studio};

const HEIGHT: f32 = 46.0;
/// In a low window they are not higher than they must be to be hit.
const LEAST: f32 = 34.0;

/// What is written on its button.
fn name(wish: Answer, scene: &RoomScene) -> String {
    match wish {
        Answer::On => match &scene.state {
            SittingState::Ready => "Start: hear it".into(),
            SittingState::Waiting(act) => format!("Next: {}", act.name().to_lowercase()),
            SittingState::Playing | SittingState::Over(_) => "Next".into(),
        },
        Answer::Again => "Again".into(),
        Answer::Slower => "Slower".into(),
        Answer::Faster => "Faster".into(),
        Answer::Hear => RoundStage::Hear.name().into(),
        Answer::Replay => HEAR_YOURSELF.into(),
        Answer::Together => RoundStage::Together.name().into(),
        Answer::Alone => RoundStage::Alone.name().into(),
        Answer::Wait => RoundStage::Wait.name().into(),
        Answer::Stop => "Stop".into(),
        Answer::Next => "Next lesson".into(),
        // Told in other ways.
        Answer::Loop(_) | Answer::Picked | Answer::Enough => String::new(),
    }
}

/// Whether a label of this size stands whole on a button of this width.
fn fits(ui: &Ui, label: &str, size: f32, width: f32) -> bool {
    let (font, color) = (FontId::proportional(size), Color32::PLACEHOLDER);
    let written = ui.painter().layout_no_wrap(label.into(), font, color);
    written.size().x + 2.0 * ui.spacing().button_padding.x <= width
}

/// Rows of large ones.
pub fn ui(ui: &mut Ui, scene: &RoomScene, studio: &mut dyn Studio) {
    let (columns, height) = (5, if super::is_low(ui) { LEAST } else { HEIGHT });
    let gap = ui.spacing().item_spacing.x;
    let width = (ui.available_width() - gap * (columns - 1) as f32) / columns as f32;
    let size = match width {
        ..110.0 => 12.0,
        ..175.0 => 14.0,
        _ => 18.0,
    };
    for row in KEYS.chunks(columns) {
        ui.horizontal(|ui| {
            for (wish, _, key) in row {
                // Where there is no room for it, the key is told on hovering.
                let name = name(*wish, scene);
                let whole = format!("{name} ({key})");
                let label = if fits(ui, &whole, size, width) { whole.clone() } else { name };
                let button = Button::new(RichText::new(label).size(size))
                    .min_size(vec2(width, height))
                    .wrap_mode(egui::TextWrapMode::Truncate);
                let sized = ui.add_enabled_ui(scene.may(*wish), |ui| {
                    ui.add_sized(vec2(width, height), button).on_hover_text(whole)
                });
                if sized.inner.clicked() {
                    studio.wish(*wish);
                }
            }
        });
    }
}
