//! The practice window: the music, what was played under it, the verdict, and
//! large buttons for a music stand.

mod buttons;
mod choose;
mod desk;
mod files;
mod foot;
mod keys;
mod lit;
mod music;
mod piano;
mod played;
mod scene;
mod status;
mod verdict;

pub use scene::{
    ChoiceCard, FolderEntry, JudgedRound, LessonPage, Pick, Preferences, RoomScene, RoundClock,
    Shelf, SittingState, Studio,
};

use egui::{Frame, Margin, ScrollArea, Ui};
use sinistra_score::practice::Answer;

use crate::kept::Kept;
use crate::look::{self, Palette};

/// Whether the window is lower than it would like to be: a laptop's screen at 200 %.
fn is_low(ui: &Ui) -> bool {
    ui.ctx().content_rect().height() < 620.0
}

/// From this width on what is said of the places stands beside the music, in a column
/// of this part of the width: two bars are wide enough without it.
const BESIDE: f32 = 1200.0;
const COLUMN: f32 = 0.24;

/// The window's own memory; everything else belongs to the sitting.
#[derive(Default)]
pub struct PracticeRoom {
    dressed: bool,
    music: music::Music,
    chooser: choose::ChoicePage,
    piano: piano::ComputerPiano,
    kept: Kept,
}

impl PracticeRoom {
    /// Draws the window and takes in what the player does with it.
    pub fn ui(&mut self, ui: &mut Ui, studio: &mut dyn Studio) {
        if !std::mem::replace(&mut self.dressed, true) {
            look::dress(ui.ctx());
        }
        look::wear(ui.ctx(), studio.preferences().look);
        let scene = studio.scene();
        let palette = Palette::of(ui);
        self.music.follow(&scene);
        // A widget that was reached with the tabulator has the first word.
        if ui.ctx().memory(|memory| memory.focused().is_none()) {
            keys::take(ui, &scene, &mut self.music, !self.piano.is_on(), studio);
            self.piano.take(ui, studio);
        }
        let frame = Frame::new().fill(palette.paper).inner_margin(Margin::same(12));
        let narrow = frame.inner_margin(Margin::symmetric(12, 6));
        egui::Panel::top("status").frame(frame).show(ui, |ui| status::ui(ui, &scene, &palette));
        // Where there is little room the music and the verdict have it.
        if !is_low(ui) || scene.rest || scene.state == SittingState::Ready {
            egui::Panel::bottom("foot")
                .frame(narrow)
                .show(ui, |ui| foot::ui(ui, &scene, &palette, studio));
        }
        let buttons = egui::Panel::bottom("buttons").frame(narrow);
        buttons.show(ui, |ui| self.buttons(ui, &scene, &palette, studio));
        let page = egui::CentralPanel::default().frame(frame);
        page.show(ui, |ui| self.page(ui, &scene, &palette, studio));
        let pause = if scene.state == SittingState::Playing { 1.0 / 60.0 } else { 0.1 };
        ui.ctx().request_repaint_after(std::time::Duration::from_secs_f64(pause));
    }

    /// The round's buttons, and the desk below them.
    fn buttons(
        &mut self,
        ui: &mut Ui,
        scene: &RoomScene,
        palette: &Palette,
        studio: &mut dyn Studio,
    ) {
        buttons::ui(ui, scene, studio);
        let (music, chooser, kept) = (&self.music, &mut self.chooser, &mut self.kept);
        if is_low(ui) && scene.state == SittingState::Playing {
            return; // nothing of it is for the midst of a round
        }
        let both = |ui: &mut Ui| {
            desk::ui(ui, scene, music, chooser, studio);
            desk::keep(ui, scene, kept, palette, studio);
            if is_low(ui) {
                ui.separator();
                desk::sound(ui, &mut self.piano, studio);
            }
        };
        if is_low(ui) {
            ScrollArea::horizontal().id_salt("desk").show(ui, |ui| ui.horizontal(both));
        } else {
            ui.horizontal_wrapped(both);
            ui.horizontal(|ui| desk::sound(ui, &mut self.piano, studio));
        }
    }

    /// The music and what is said of it, or what there is to choose from.
    fn page(&mut self, ui: &mut Ui, scene: &RoomScene, palette: &Palette, studio: &mut dyn Studio) {
        if scene.state == SittingState::Playing {
            self.chooser.close(); // or it would lie over the verdict
        }
        if self.chooser.is_open() {
            return self.chooser.ui(ui, scene, palette, studio);
        }
        // First, so that nothing hides it.
        let low = is_low(ui);
        if low && scene.state != SittingState::Playing {
            ui.horizontal_wrapped(|ui| {
                self.music.pager(ui, scene);
                verdict::summary(ui, scene);
            });
        } else {
            verdict::summary(ui, scene);
        }
        if !low {
            // The music grows by the height that the places would take above it.
            let width = ui.available_width();
            match scene.state != SittingState::Playing && width >= BESIDE {
                true => {
                    let column = egui::Panel::right("said").resizable(false);
                    let clear = Margin { left: 10, ..Margin::ZERO };
                    let clear = Frame::NONE.inner_margin(clear);
                    let column = column.exact_size(width * COLUMN).frame(clear);
                    column.show(ui, |ui| verdict::details(ui, scene, palette));
                }
                false => verdict::details(ui, scene, palette),
            }
        }
        lit::ui(ui, scene);
        ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
            ui.set_width(ui.available_width() - 12.0); // beside the scroll bar
            let why = studio.preferences().why;
            if let Some(bars) = self.music.ui(ui, scene, palette, why)
                && scene.may(Answer::Loop(None))
            {
                studio.wish(Answer::Loop(Some(bars)));
            }
            if low {
                verdict::details(ui, scene, palette);
            }
        });
    }
}
