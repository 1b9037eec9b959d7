//! The practice window: the music, what was played under it, the verdict, and
//! large buttons for a music stand.

mod buttons;
mod choose;
mod foot;
mod keys;
mod music;
mod played;
mod scene;
mod status;
mod verdict;

pub use scene::{
    Act, ChoiceCard, HandsAsked, JudgedRound, LessonPage, Pick, RoomRequest, RoundClock, Scene,
    Shelf, SittingState, Studio,
};

use egui::{Frame, Margin, ScrollArea, Ui};

use crate::look::{self, Palette};

/// The window's own memory; everything else belongs to the sitting.
#[derive(Default)]
pub struct PracticeRoom {
    dressed: bool,
    music: music::Music,
    chooser: choose::ChoicePage,
}

impl PracticeRoom {
    /// Draws the window and takes in what the player does with it.
    pub fn ui(&mut self, ui: &mut Ui, studio: &mut dyn Studio) {
        if !std::mem::replace(&mut self.dressed, true) {
            look::dress(ui.ctx());
        }
        look::wear(ui.ctx(), studio.look());
        let scene = studio.scene();
        let palette = Palette::of(ui);
        self.music.follow(&scene);
        keys::take(ui, &scene, &mut self.music, studio);
        let frame = Frame::new().fill(palette.paper).inner_margin(Margin::same(12));
        egui::Panel::top("status").frame(frame).show(ui, |ui| status::ui(ui, &scene, &palette));
        egui::Panel::bottom("foot")
            .frame(frame.inner_margin(Margin::symmetric(12, 6)))
            .show(ui, |ui| foot::ui(ui, &scene, &palette, studio));
        egui::Panel::bottom("buttons")
            .frame(frame.inner_margin(Margin::symmetric(12, 6)))
            .show(ui, |ui| buttons::ui(ui, &scene, &self.music, &mut self.chooser, studio));
        egui::CentralPanel::default().frame(frame).show(ui, |ui| {
            if self.chooser.is_open() && scene.state != SittingState::Playing {
                return self.chooser.ui(ui, &scene, &palette, studio);
            }
            ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
                ui.set_width(ui.available_width() - 12.0); // beside the scroll bar
                self.music.ui(ui, &scene, &palette);
                verdict::ui(ui, &scene, &palette);
            });
        });
        let pause = if scene.state == SittingState::Playing { 1.0 / 60.0 } else { 0.1 };
        ui.ctx().request_repaint_after(std::time::Duration::from_secs_f64(pause));
    }
}
