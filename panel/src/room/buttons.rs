//! Large buttons, to be hit from the piano stool.

use egui::{Button, RichText, Ui, vec2};

use super::choose::ChoicePage;
use super::keys::KEYS;
use super::music::Music;
use super::scene::{Act, RoomRequest, Scene, SittingState, Studio};

const HEIGHT: f32 = 46.0;

/// Whether a wish makes sense now.
pub fn may(wish: RoomRequest, scene: &Scene) -> bool {
    let playing = scene.state == SittingState::Playing;
    match (&scene.state, wish) {
        (SittingState::Over(_), _) => false,
        (_, RoomRequest::Stop) => playing,
        // While the player plays, only the round's end says what is next.
        (SittingState::Playing, RoomRequest::Next) => scene.act == Act::Hear,
        (SittingState::Ready, RoomRequest::Again) => false,
        _ => true,
    }
}

/// What is written on its button.
fn name(wish: RoomRequest, scene: &Scene) -> String {
    match wish {
        RoomRequest::Next => match &scene.state {
            SittingState::Ready => "Start: hear it".into(),
            SittingState::Waiting(act) => format!("Next: {}", act.name().to_lowercase()),
            SittingState::Playing | SittingState::Over(_) => "Next".into(),
        },
        RoomRequest::Again => "Again".into(),
        RoomRequest::Slower => "Slower".into(),
        RoomRequest::Faster => "Faster".into(),
        RoomRequest::Hear => Act::Hear.name().into(),
        RoomRequest::Together => Act::Together.name().into(),
        RoomRequest::Alone => Act::Alone.name().into(),
        RoomRequest::Stop => "Stop".into(),
        RoomRequest::NextLesson => "Next lesson".into(),
        RoomRequest::Loop(_) => String::new(),
    }
}

/// Two rows of four, and a row of smaller ones.
pub fn ui(
    ui: &mut Ui,
    scene: &Scene,
    music: &Music,
    chooser: &mut ChoicePage,
    studio: &mut dyn Studio,
) {
    let gap = ui.spacing().item_spacing.x;
    let width = (ui.available_width() - 3.0 * gap) / 4.0;
    let size = if width < 160.0 { 15.0 } else { 18.0 };
    for row in KEYS[..8].chunks(4) {
        ui.horizontal(|ui| {
            for (wish, _, key) in row {
                let label = format!("{} ({key})", name(*wish, scene));
                let button = Button::new(RichText::new(label).size(size))
                    .min_size(vec2(width, HEIGHT))
                    .wrap_mode(egui::TextWrapMode::Truncate);
                let sized = ui.add_enabled_ui(may(*wish, scene), |ui| {
                    ui.add_sized(vec2(width, HEIGHT), button)
                });
                if sized.inner.clicked() {
                    studio.wish(*wish);
                }
            }
        });
    }
    ui.horizontal_wrapped(|ui| {
        if let Some((first, last)) = music.shown(scene) {
            let only = if first == last {
                format!("Only bar {first}")
            } else {
                format!("Only bars {first}–{last}")
            };
            let here = scene.bars == Some((first, last));
            let button =
                ui.add_enabled(!here && may(RoomRequest::Loop(None), scene), Button::new(only));
            if button.clicked() {
                studio.wish(RoomRequest::Loop(Some((first, last))));
            }
        }
        let all = Button::new("All bars");
        if ui.add_enabled(scene.bars.is_some(), all).clicked() {
            studio.wish(RoomRequest::Loop(None));
        }
        let next = Button::new("Next lesson (N)");
        if ui.add_enabled(may(RoomRequest::NextLesson, scene), next).clicked() {
            studio.wish(RoomRequest::NextLesson);
        }
        let choose = Button::new("Choose what to practise…").selected(chooser.is_open());
        let between = matches!(scene.state, SittingState::Ready | SittingState::Waiting(_));
        if ui.add_enabled(between, choose).clicked() {
            chooser.toggle(scene);
        }
    });
}
