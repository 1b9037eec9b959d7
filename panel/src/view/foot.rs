//! The foot of the window: keep what was just played; the manual; the look.

use std::path::PathBuf;

use egui::{Align, Button, ComboBox, Layout, RichText, Ui};
use sinistra_core::engine::Snapshot;

use crate::home::Home;
use crate::kept::{KEPT_BARS, Kept};
use crate::look::{self, Palette};
use crate::manual;

/// Bars that may be kept.
const BARS: [usize; 5] = [4, 8, 16, 32, 64];

/// A button for what was done in the window.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs, reason = "their names say it")]
pub enum UndoButton {
    Undo,
    Redo,
}

/// Remembers how many bars to keep, and how the last time went.
pub struct Foot {
    bars: usize,
    kept: Kept,
    manual: Option<PathBuf>,
    /// Points that its right end took when it was last drawn.
    right: f32,
    /// Whether that found no room beside the rest, and stands above it.
    two_rows: bool,
}

impl Default for Foot {
    fn default() -> Self {
        Self {
            bars: KEPT_BARS,
            kept: Kept::default(),
            manual: manual::installed(),
            right: 0.0,
            two_rows: false,
        }
    }
}

impl Foot {
    /// One row, or two where one is too short; whether there is something to undo and to redo, if that is the
    /// foot's business.
    pub fn ui(
        &mut self,
        ui: &mut Ui,
        home: &mut dyn Home,
        snapshot: &Snapshot,
        can: Option<(bool, bool)>,
    ) -> Option<UndoButton> {
        let palette = Palette::of(ui);
        let mut pressed = None;
        // What is pressed while playing stays at the bottom, where it was.
        if self.two_rows {
            ui.horizontal(|ui| self.right_end(ui, home));
        }
        ui.horizontal_wrapped(|ui| {
            self.keep(ui, home, &palette);
            if let Some((undo, redo)) = can {
                for (what, may, key) in
                    [(UndoButton::Undo, undo, "Ctrl+Z"), (UndoButton::Redo, redo, "Ctrl+Shift+Z")]
                {
                    let button = ui.add_enabled(may, Button::new(format!("{what:?}")));
                    if button.on_hover_text(format!("What was set here: key {key}")).clicked() {
                        pressed = Some(what);
                    }
                }
            }
            let delay = home.delay();
            if delay > 0.0 {
                let text = format!("Look-ahead: your right hand sounds {delay:.2} s later");
                ui.label(RichText::new(text).color(palette.ink)).on_hover_text(
                    "For recorded tracks: the host makes up for it. To play live, put \
                     look-ahead off (Settings, Foresight).",
                );
            }
            if snapshot.dropped > 0 {
                let text = format!("! {} notes could not be sent", snapshot.dropped);
                ui.label(RichText::new(text).color(palette.fault));
            }
            let room = ui.available_size_before_wrap().x;
            if !self.two_rows {
                self.right_end(ui, home);
            }
            self.two_rows = room < self.right;
        });
        pressed
    }

    /// What stands at the right edge.
    fn right_end(&mut self, ui: &mut Ui, home: &mut dyn Home) {
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            look(ui, home);
            self.manual(ui);
            self.right = ui.min_rect().width();
        });
    }

    /// A button where there is a manual.
    fn manual(&mut self, ui: &mut Ui) {
        let Some(path) = &self.manual else { return };
        let button = ui.button("Manual").on_hover_text(path.display().to_string());
        if button.clicked()
            && let Err(why) = open::that_detached(path)
        {
            self.kept.now(Err(format!("The manual cannot be shown: {why}")));
        }
    }

    fn keep(&mut self, ui: &mut Ui, home: &mut dyn Home, palette: &Palette) {
        let button = ui
            .button("Keep what was just played")
            .on_hover_text("Writes the last bars to new files: both hands as MIDI; chart, left hand as a pattern, and sheet to practise.");
        if button.clicked() {
            self.kept.now(home.keep(self.bars));
        }
        ComboBox::from_id_salt("bars")
            .selected_text(format!("{} bars", self.bars))
            .width(76.0)
            .show_ui(ui, |ui| {
                for bars in BARS {
                    ui.selectable_value(&mut self.bars, bars, format!("{bars} bars"));
                }
            })
            .response
            .labelled_by(button.id);
        self.kept.ui(ui, palette);
    }
}

fn look(ui: &mut Ui, home: &mut dyn Home) {
    if let Some(look) = look::chooser(ui, home.look()) {
        home.set_look(look);
    }
}
