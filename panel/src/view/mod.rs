//! The window, from top to bottom: the chord now and the one to come, the
//! count of the bar, the keyboard, the chart beside patterns and settings.

mod chart;
mod chord;
pub(crate) mod count;
mod foot;
pub(crate) mod keyboard;
mod marked;
mod next;
mod page;
mod patterns;
mod script;
mod set_ups;
mod settings;
mod undo;
pub(crate) mod wiring;

use egui::{Frame, Margin, RichText, ScrollArea, Stroke, StrokeKind, Ui, Vec2, vec2};
use sinistra_core::engine::Snapshot;
use sinistra_core::play::FigureOf;
use sinistra_score::wording as words;

use crate::home::Home;
use crate::look::{self, Palette};
use crate::staff::ComingBars;
pub(crate) use undo::asked;

sinistra_core::named! {
    /// What is worked at.
    #[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
    enum Side {
        Chart = "Chart",
        #[default]
        Patterns = "Patterns",
        Settings = "Settings",
    }
    name
}

/// How a window of some size is arranged.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Size {
    /// The height of what is looked at while playing beside its usual height.
    part: f32,
    /// Columns of what is worked at.
    columns: usize,
}

impl Size {
    /// The room that everything was drawn for, points.
    const USUAL: Vec2 = vec2(1040.0, 700.0);

    fn of(room: Vec2) -> Self {
        let part = (room.x / Self::USUAL.x).min(room.y / Self::USUAL.y);
        let columns = if room.x < 700.0 {
            1
        } else if room.x < 1500.0 {
            2
        } else {
            3
        };
        Self { part: part.clamp(0.5, 2.4), columns }
    }
}

/// Room that the music and what is worked at need together, points.
const LOW: f32 = 320.0;

/// The usual width of what comes next, points.
const NEXT: f32 = 330.0;

/// The window's own memory; everything else belongs to its home.
#[derive(Default)]
pub struct Panel {
    dressed: bool,
    side: Side,
    chart: chart::ChartEditor,
    own_pattern: patterns::PatternEditor,
    foot: foot::Foot,
    undo: undo::PanelHistory,
    staff: ComingBars,
}

impl Panel {
    /// Draws the window and takes in what the player does with it.
    pub fn ui(&mut self, ui: &mut Ui, home: &mut dyn Home) {
        if !std::mem::replace(&mut self.dressed, true) {
            look::dress(ui.ctx());
        }
        look::wear(ui.ctx(), home.look());
        self.within(ui, home, true);
    }

    /// Takes back what was done last, in this window.
    pub(crate) fn undo(&mut self, home: &mut dyn Home) {
        self.undo.undo(home);
    }

    /// Does again what was taken back last.
    pub(crate) fn redo(&mut self, home: &mut dyn Home) {
        self.undo.redo(home);
    }

    /// Steps that can be taken back.
    pub(crate) fn steps(&self) -> usize {
        self.undo.steps()
    }

    /// Draws it into a window that is dressed; with keys and buttons to undo and
    /// redo, unless the window has its own.
    pub(crate) fn within(&mut self, ui: &mut Ui, home: &mut dyn Home, undoes: bool) {
        let mut undo = std::mem::take(&mut self.undo);
        undo.frame();
        let can = undoes.then(|| (undo.steps() > 0, undo.can_redo()));
        let pressed = self.recorded(ui, &mut undo::Recorded { home, undo: &mut undo }, can);
        self.undo = undo;
        let writes = ui.ctx().egui_wants_keyboard_input();
        let (back, again) = if undoes && !writes { asked(ui) } else { (false, false) };
        if back || pressed == Some(foot::UndoButton::Undo) {
            self.undo(home);
        } else if again || pressed == Some(foot::UndoButton::Redo) {
            self.redo(home);
        }
    }

    fn recorded(
        &mut self,
        ui: &mut Ui,
        home: &mut dyn Home,
        can: Option<(bool, bool)>,
    ) -> Option<foot::UndoButton> {
        let snapshot = home.snapshot();
        let mut pressed = None;
        let palette = Palette::of(ui);
        let frame = Frame::new().fill(palette.paper).inner_margin(Margin::same(12));
        egui::Panel::bottom("foot").frame(frame.inner_margin(Margin::symmetric(12, 6))).show(
            ui,
            |ui| {
                if let Some(wiring) = home.wiring() {
                    ui.scope(|ui| wiring::ui(ui, &wiring));
                }
                pressed = self.foot.ui(ui, home, &snapshot, can);
            },
        );
        let size = Size::of(ui.available_size());
        // What matters for playing stays where it is; the rest scrolls below it. A low
        // window on stage has a page of its own to play from.
        if can.is_some() || ui.available_height() >= LOW {
            egui::Panel::top("music").frame(frame).resizable(false).show(ui, |ui| {
                self.music(ui, home, &snapshot, size);
            });
        }
        egui::CentralPanel::default()
            .frame(frame.inner_margin(Margin::symmetric(12, 4)))
            .show(ui, |ui| self.desk(ui, home, &snapshot, size));
        show_focus(ui, &palette);
        // Music moves; a window at rest only looks now and then.
        let busy = snapshot.playing || snapshot.right != 0 || !snapshot.left.is_empty();
        let pause = if busy { 1.0 / 60.0 } else { 0.1 };
        ui.ctx().request_repaint_after(std::time::Duration::from_secs_f64(pause));
        pressed
    }

    /// What is looked at while playing.
    fn music(&mut self, ui: &mut Ui, home: &dyn Home, snapshot: &Snapshot, size: Size) {
        let width = ui.available_width();
        let settings = home.values().settings();
        ui.horizontal(|ui| {
            let now = (width * 0.42).clamp(150.0, 460.0 * size.part);
            let height = chord::HEIGHT * size.part;
            ui.allocate_ui(vec2(now, height), |ui| {
                ui.set_width(now);
                chord::ui(ui, snapshot, size.part);
            });
            let gap = ui.spacing().item_spacing.x;
            let next = NEXT * size.part;
            let staff = vec2(ui.available_width() - next - gap, height);
            if size.columns < 3 || !ComingBars::fit(staff) {
                next::ui(ui, snapshot, size.part);
                return;
            }
            ui.allocate_ui(vec2(next, height), |ui| {
                ui.set_width(next);
                next::ui(ui, snapshot, size.part);
            });
            self.staff.ui(ui, snapshot, settings.swing, staff);
        });
        // Letters need their eleven points.
        let strip = count::ui(ui, snapshot, count::HEIGHT * size.part.max(0.68));
        strip.on_hover_text(count::HELP);
        ui.add_space(2.0);
        let keys = keyboard::ui(ui, snapshot, &settings, keyboard::HEIGHT * size.part);
        keys.on_hover_text(keyboard::HELP);
    }

    /// What is worked at: the chart, the patterns, the settings; one at a time in a
    /// small window, all at once in a large one, each with a scroll bar of its own.
    fn desk(&mut self, ui: &mut Ui, home: &mut dyn Home, snapshot: &Snapshot, size: Size) {
        let columns: &[Side] = match size.columns {
            1 => &[],
            2 => &[Side::Chart],
            _ => &[Side::Chart, Side::Patterns, Side::Settings],
        };
        if size.columns < 3 {
            // Those that have no column of their own share the last.
            let shared = Side::ALL.iter().filter(|side| !columns.contains(side));
            if columns.contains(&self.side) {
                self.side = Side::Patterns;
            }
            let width = ui.available_width();
            ui.horizontal_top(|ui| {
                if size.columns == 2 {
                    ui.vertical(|ui| {
                        ui.set_width(width * 0.54);
                        self.part(ui, home, snapshot, Side::Chart);
                    });
                    ui.add_space(8.0);
                }
                ui.vertical(|ui| {
                    ui.set_width(ui.available_width());
                    ui.horizontal(|ui| {
                        for side in shared {
                            ui.selectable_value(&mut self.side, *side, side.name());
                        }
                    });
                    ui.separator();
                    self.part(ui, home, snapshot, self.side);
                });
            });
            return;
        }
        ui.columns(columns.len(), |uis| {
            for (ui, side) in uis.iter_mut().zip(columns) {
                if *side != Side::Chart {
                    ui.heading(side.name());
                    ui.separator();
                }
                self.part(ui, home, snapshot, *side);
            }
        });
    }

    fn part(&mut self, ui: &mut Ui, home: &mut dyn Home, snapshot: &Snapshot, side: Side) {
        let area = ScrollArea::vertical().id_salt(side.name()).auto_shrink([false, false]);
        area.show(ui, |ui| {
            ui.set_width(ui.available_width() - 12.0); // beside the scroll bar
            match side {
                Side::Chart => self.chart.ui(ui, home, snapshot),
                Side::Patterns => {
                    why(ui, snapshot);
                    self.own_pattern.ui(ui, home);
                }
                Side::Settings => settings::ui(ui, home),
            }
        });
    }
}

/// Why our hand last struck as it did, where it chooses.
fn why(ui: &mut Ui, snapshot: &Snapshot) {
    if let Some(why) = snapshot.why.filter(|why| why.figure != FigureOf::Pattern) {
        let palette = Palette::of(ui);
        ui.label(RichText::new(words::why(why)).color(palette.faint));
    }
}

/// A ring around what the keyboard speaks to: some widgets show nothing of it.
fn show_focus(ui: &Ui, palette: &Palette) {
    let context = ui.ctx();
    let focused = context.memory(|memory| memory.focused());
    if let Some(response) = focused.and_then(|id| context.read_response(id)) {
        let painter = context.layer_painter(response.layer_id);
        let clip = response.interact_rect.expand(3.0);
        let ring = Stroke::new(2.0, palette.right);
        painter.with_clip_rect(clip).rect_stroke(
            response.interact_rect.expand(1.5),
            4.0,
            ring,
            StrokeKind::Middle,
        );
    }
}
