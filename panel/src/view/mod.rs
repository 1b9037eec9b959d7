//! The window, from top to bottom: the chord now and the one to come, the
//! count of the bar, the keyboard, the chart beside patterns and settings.

mod chart;
mod chord;
mod count;
mod foot;
mod keyboard;
mod next;
mod page;
mod patterns;
mod script;
mod settings;
mod wiring;

use egui::{Frame, Margin, ScrollArea, Ui, vec2};
use sinistra_core::engine::Snapshot;
use sinistra_score::wording as words;

use crate::home::Home;
use crate::look::{self, Palette};

/// What stands beside the chart.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum Side {
    #[default]
    Patterns,
    Settings,
}

/// The window's own memory; everything else belongs to its home.
#[derive(Default)]
pub struct Panel {
    dressed: bool,
    side: Side,
    chart: chart::Desk,
    own_pattern: patterns::Own,
    foot: foot::Foot,
}

impl Panel {
    /// Draws the window and takes in what the player does with it.
    pub fn ui(&mut self, ui: &mut Ui, home: &mut dyn Home) {
        if !std::mem::replace(&mut self.dressed, true) {
            look::dress(ui.ctx());
        }
        look::wear(ui.ctx(), home.look());
        let snapshot = home.snapshot();
        let palette = Palette::of(ui);
        let frame = Frame::new().fill(palette.paper).inner_margin(Margin::same(12));
        egui::Panel::bottom("foot").frame(frame.inner_margin(Margin::symmetric(12, 6))).show(
            ui,
            |ui| {
                if let Some(wiring) = home.wiring() {
                    wiring::ui(ui, &wiring);
                }
                self.foot.ui(ui, home, &snapshot);
            },
        );
        egui::CentralPanel::default().frame(frame).show(ui, |ui| {
            ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
                ui.set_width(ui.available_width() - 12.0); // beside the scroll bar
                self.music(ui, home, &snapshot);
                ui.add_space(8.0);
                self.desk(ui, home, &snapshot);
            });
        });
        // Music moves; a window at rest only looks now and then.
        let busy = snapshot.playing || snapshot.right != 0 || !snapshot.left.is_empty();
        let pause = if busy { 1.0 / 60.0 } else { 0.1 };
        ui.ctx().request_repaint_after(std::time::Duration::from_secs_f64(pause));
    }

    /// What is looked at while playing.
    fn music(&mut self, ui: &mut Ui, home: &dyn Home, snapshot: &Snapshot) {
        let width = ui.available_width();
        ui.horizontal(|ui| {
            let now = (width * 0.42).clamp(220.0, 460.0);
            ui.allocate_ui(vec2(now, chord::HEIGHT), |ui| {
                ui.set_min_width(now);
                chord::ui(ui, snapshot);
            });
            next::ui(ui, snapshot);
        });
        count::ui(ui, snapshot, count::HEIGHT);
        ui.add_space(4.0);
        keyboard::ui(ui, snapshot, &home.values().settings());
    }

    /// What is worked at: the chart, the patterns, the settings.
    fn desk(&mut self, ui: &mut Ui, home: &mut dyn Home, snapshot: &Snapshot) {
        let width = ui.available_width();
        if width < 700.0 {
            self.chart.ui(ui, home, snapshot);
            ui.add_space(8.0);
            self.side(ui, home);
            return;
        }
        ui.horizontal_top(|ui| {
            ui.vertical(|ui| {
                ui.set_width(width * 0.54);
                self.chart.ui(ui, home, snapshot);
            });
            ui.add_space(8.0);
            ui.vertical(|ui| {
                ui.set_width(ui.available_width());
                self.side(ui, home);
            });
        });
    }

    fn side(&mut self, ui: &mut Ui, home: &mut dyn Home) {
        ui.horizontal(|ui| {
            for (side, name) in [(Side::Patterns, "Patterns"), (Side::Settings, "Settings")] {
                ui.selectable_value(&mut self.side, side, name);
            }
        });
        ui.separator();
        match self.side {
            Side::Patterns => self.own_pattern.ui(ui, home),
            Side::Settings => settings::ui(ui, home),
        }
    }
}
