//! Large buttons, to be hit from the piano stool.

use egui::{Button, RichText, Ui, vec2};

use super::choose::Chooser;
use super::keys::KEYS;
use super::music::Music;
use super::scene::{Act, Scene, State, Studio, Wish};

const HEIGHT: f32 = 46.0;

/// Whether a wish makes sense now.
pub fn may(wish: Wish, scene: &Scene) -> bool {
    let playing = scene.state == State::Playing;
    match (&scene.state, wish) {
        (State::Over(_), _) => false,
        (_, Wish::Stop) => playing,
        // While the player plays, only the round's end says what is next.
        (State::Playing, Wish::Next) => scene.act == Act::Hear,
        (State::Ready, Wish::Again) => false,
        _ => true,
    }
}

/// What is written on its button.
fn name(wish: Wish, scene: &Scene) -> String {
    match wish {
        Wish::Next => match &scene.state {
            State::Ready => "Start: hear it".into(),
            State::Waiting(act) => format!("Next: {}", act.name().to_lowercase()),
            State::Playing | State::Over(_) => "Next".into(),
        },
        Wish::Again => "Again".into(),
        Wish::Slower => "Slower".into(),
        Wish::Faster => "Faster".into(),
        Wish::Hear => Act::Hear.name().into(),
        Wish::Together => Act::Together.name().into(),
        Wish::Alone => Act::Alone.name().into(),
        Wish::Stop => "Stop".into(),
        Wish::NextLesson => "Next lesson".into(),
        Wish::Loop(_) => String::new(),
    }
}

/// Two rows of four, and a row of smaller ones.
pub fn ui(
    ui: &mut Ui,
    scene: &Scene,
    music: &Music,
    chooser: &mut Chooser,
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
            let button = ui.add_enabled(!here && may(Wish::Loop(None), scene), Button::new(only));
            if button.clicked() {
                studio.wish(Wish::Loop(Some((first, last))));
            }
        }
        let all = Button::new("All bars");
        if ui.add_enabled(scene.bars.is_some(), all).clicked() {
            studio.wish(Wish::Loop(None));
        }
        let next = Button::new("Next lesson (N)");
        if ui.add_enabled(may(Wish::NextLesson, scene), next).clicked() {
            studio.wish(Wish::NextLesson);
        }
        let choose = Button::new("Choose what to practise…").selected(chooser.is_open());
        let between = matches!(scene.state, State::Ready | State::Waiting(_));
        if ui.add_enabled(between, choose).clicked() {
            chooser.toggle(scene);
        }
    });
}
