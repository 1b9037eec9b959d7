//! The window on stage, an instrument's panel: what is read from afar, and large
//! buttons; the set, the ports, and behind them the whole of the other window.

mod buttons;
mod keys;
mod ports;
mod scene;
mod sight;
mod songs;
mod transport;
mod undo;

pub use scene::{ControlLine, Leads, Left, OnStage, Passed, Port, StageScene, StageWish, Turn};

use egui::{Frame, Margin, Ui, Vec2, vec2};

use crate::look::{self, Palette};
use crate::staff::ComingBars;
use crate::view::{Panel, count, keyboard, wiring};
use buttons::{StageKey, TARGET, row};

/// From this height on a window has room for a staff, points, and for one of this part
/// of its height at most.
const HIGH: f32 = 900.0;
const STAFF: f32 = 0.2;

sinistra_core::named! {
    /// What the window shows.
    #[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
    enum StagePage {
        #[default]
        Play = "Play",
        Songs = "Songs",
        Ports = "Ports",
        SetUp = "Set up",
    }
    name
}

/// The window's own memory; everything else belongs to the bridge.
#[derive(Default)]
pub struct StagePanel {
    dressed: bool,
    page: StagePage,
    panel: Panel,
    undo: undo::StageHistory,
    staff: ComingBars,
}

impl StagePanel {
    /// Draws the window and takes in what the player does with it.
    pub fn ui(&mut self, ui: &mut Ui, stage: &mut dyn OnStage) {
        if !std::mem::replace(&mut self.dressed, true) {
            look::dress(ui.ctx());
            // Whatever is touched is as high as a finger is wide.
            ui.ctx().all_styles_mut(|style| {
                style.spacing.interact_size = egui::vec2(TARGET, TARGET);
            });
        }
        look::wear(ui.ctx(), stage.look());
        let scene = stage.scene();
        let palette = Palette::of(ui);
        let (mut ask, steps) = (Vec::new(), self.panel.steps());
        keys::take(ui, &scene, &mut self.page, &mut ask);
        let window = ui.available_height();
        let frame = Frame::new().fill(palette.paper).inner_margin(Margin::symmetric(8, 4));
        egui::Panel::top("pages").frame(frame).show(ui, |ui| self.pages(ui, &scene, &mut ask));
        if self.page == StagePage::SetUp {
            self.panel.within(ui, stage, false);
        } else {
            egui::Panel::bottom("said").frame(frame).show(ui, |ui| {
                if let Some(wiring) = stage.wiring() {
                    wiring::ui(ui, &wiring);
                }
            });
            egui::CentralPanel::default().frame(frame).show(ui, |ui| match self.page {
                StagePage::Songs => songs::ui(ui, &scene, &mut ask),
                StagePage::Ports => ports::ui(ui, &scene, &mut ask),
                StagePage::Play | StagePage::SetUp => {
                    self.play(ui, &scene, window, stage, &mut ask)
                }
            });
        }
        if self.panel.steps() > steps {
            self.undo.panel();
        }
        for wish in ask {
            self.undo.wish(&wish, &scene);
            stage.wish(wish);
        }
        self.undo.keys(ui, &mut self.panel, stage);
        let pause = if scene.moves { 1.0 / 60.0 } else { 0.05 };
        ui.ctx().request_repaint_after(std::time::Duration::from_secs_f64(pause));
    }

    fn pages(&mut self, ui: &mut Ui, scene: &StageScene, ask: &mut Vec<StageWish>) {
        let page =
            |(page, key): (&StagePage, _)| StageKey::new(page.name(), key).lit(*page == self.page);
        let mut keys: Vec<_> = StagePage::ALL.iter().zip(["1", "2", "3", "4"]).map(page).collect();
        keys.push(StageKey::new("Undo", "Ctrl+Z").only_if(self.undo.can_undo()));
        if let Some(full) = scene.full_screen {
            keys.push(StageKey::new("Full screen", "W").lit(full));
        }
        match row(ui, TARGET, &keys) {
            Some(4) => self.undo.ask(),
            Some(5) => ask.push(StageWish::FullScreen),
            Some(n) => self.page = StagePage::ALL.get(n).copied().unwrap_or_default(),
            None => {}
        }
    }

    /// The page to play from. What is read from afar comes first; staff, strip and
    /// keyboard take what room is left.
    fn play(
        &mut self,
        ui: &mut Ui,
        scene: &StageScene,
        window: f32,
        stage: &mut dyn OnStage,
        ask: &mut Vec<StageWish>,
    ) {
        let snapshot = stage.snapshot();
        let settings = stage.values().settings();
        let gap = ui.spacing().item_spacing.y;
        let width = ui.available_width();
        let height = (0.075 * window).clamp(TARGET, 72.0);
        let buttons = 3.0 * (height + gap);
        let room = ui.available_height() - buttons;
        let strips = count::HEIGHT + keyboard::HEIGHT;
        // A high window has room for what is read from near.
        let near = room - 0.42 * window;
        let staff = vec2(width, (0.4 * near).min(STAFF * window));
        let has_staff = window >= HIGH && ComingBars::fit(staff);
        let staff = if has_staff { staff } else { Vec2::ZERO };
        let part = ((near - staff.y) / strips).min(1.6);
        let mut shown = if part >= 0.55 { strips * part + 2.0 * gap } else { 0.0 };
        shown += if has_staff { staff.y + gap } else { 0.0 };
        ui.allocate_ui(vec2(width, (room - shown).max(0.0)), |ui| {
            ui.set_height((room - shown).max(0.0));
            sight::ui(ui, &snapshot, window);
        });
        if has_staff {
            self.staff.ui(ui, &snapshot, settings.swing, staff);
        }
        if part >= 0.55 {
            // With no explanation, which would lie over the buttons.
            count::ui(ui, &snapshot, count::HEIGHT * part);
            keyboard::ui(ui, &snapshot, &settings, keyboard::HEIGHT * part);
        }
        transport::ui(ui, scene, &snapshot, height, ask);
    }
}
