//! The row of smaller things: the hands, the bars, how loud the machine is, the
//! computer's keyboard as a piano.

use egui::{Button, Slider, Ui};
use sinistra_score::practice::{Answer, Hands, Mix};

use super::choose::ChoicePage;
use super::keys::{HEAR_YOURSELF, REPLAY};
use super::music::Music;
use super::piano::ComputerPiano;
use super::scene::{Pick, Preferences, RoomScene, SittingState, Studio};
use crate::kept::Kept;
use crate::look::Palette;

const HANDS: [(Hands, &str); 3] =
    [(Hands::Left, "Left hand"), (Hands::Right, "Right hand"), (Hands::Both, "Both hands")];

/// Whose part, which bars, what else: the first row.
pub fn ui(
    ui: &mut Ui,
    scene: &RoomScene,
    music: &Music,
    chooser: &mut ChoicePage,
    studio: &mut dyn Studio,
) {
    let between = matches!(scene.state, SittingState::Ready | SittingState::Waiting(_));
    // Hands apart, then together.
    for (hands, name) in HANDS {
        let button = Button::new(name).selected(scene.pick.hands == hands);
        if ui.add_enabled(between, button).clicked() && scene.pick.hands != hands {
            studio.pick(Pick { hands, ..scene.pick.clone() });
        }
    }
    ui.separator();
    bars(ui, scene, music, studio);
    ui.separator();
    let (wish, _, key) = REPLAY;
    let replay = ui.add_enabled(scene.may(wish), Button::new(format!("{HEAR_YOURSELF} ({key})")));
    if replay.on_hover_text("The round as you played it").clicked() {
        studio.wish(wish);
    }
    ui.separator();
    let choose = Button::new("Choose what to practise…").selected(chooser.is_open());
    if ui.add_enabled(between, choose).clicked() {
        chooser.toggle(scene);
    }
}

/// Whether it is said why; and "that one": what is practised, kept to practise from.
pub fn keep(
    ui: &mut Ui,
    scene: &RoomScene,
    kept: &mut Kept,
    palette: &Palette,
    studio: &mut dyn Studio,
) {
    ui.separator();
    let before = studio.preferences();
    let mut why = before.why;
    let about = "Under the music: the figure that the hand took, and what it listened to.";
    if ui.checkbox(&mut why, "Why").on_hover_text(about).changed() {
        studio.prefer(Preferences { why, ..before });
    }
    let button = ui.add_enabled(scene.lesson.is_some(), Button::new("Keep this chorus"));
    let about = "Writes its chart, its left hand as a pattern, and its sheet to new files.";
    if button.on_hover_text(about).clicked() {
        kept.now(studio.keep());
    }
    kept.ui(ui, palette);
}

/// How loud, and on what: the second row.
pub fn sound(ui: &mut Ui, piano: &mut ComputerPiano, studio: &mut dyn Studio) {
    mix(ui, studio);
    ui.separator();
    piano.ui(ui, studio);
}

/// Which bars: those that are shown, or all. A bar that is marked with the mouse is
/// the loop as well.
fn bars(ui: &mut Ui, scene: &RoomScene, music: &Music, studio: &mut dyn Studio) {
    if let Some((first, last)) = music.shown(scene) {
        let only = match first == last {
            true => format!("Only bar {first}"),
            false => format!("Only bars {first}–{last}"),
        };
        let here = scene.bars == Some((first, last));
        let may = !here && scene.may(Answer::Loop(None));
        let button = ui.add_enabled(may, Button::new(only));
        if button.on_hover_text("Or draw over bars of the music with the mouse").clicked() {
            studio.wish(Answer::Loop(Some((first, last))));
        }
    }
    let all = Button::new("All bars");
    if ui.add_enabled(scene.bars.is_some(), all).clicked() {
        studio.wish(Answer::Loop(None));
    }
}

/// Metronome and music, from the next round on.
fn mix(ui: &mut Ui, studio: &mut dyn Studio) {
    let before = studio.preferences();
    let mut mix = before.mix;
    ui.spacing_mut().slider_width = 70.0;
    for (name, value) in [("Metronome", &mut mix.metronome), ("Music", &mut mix.music)] {
        ui.horizontal(|ui| {
            let label = ui.label(name);
            let slider = Slider::new(value, 0..=Mix::MOST).suffix(" %");
            ui.add(slider).labelled_by(label.id).on_hover_text("Heard from the next round on");
        });
    }
    if mix != before.mix {
        studio.prefer(Preferences { mix, ..before });
    }
}
