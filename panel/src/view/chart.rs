//! The chart: read as bars with the place in them, written as text with its
//! faults shown where they are.

use std::sync::Arc;

use egui::text::{LayoutJob, TextFormat};
use egui::{Color32, FontId, Galley, RichText, Stroke, TextEdit, TextStyle, Ui};
use sinistra_core::engine::Snapshot;
use sinistra_core::foresee::Song;
use sinistra_score::{Chart, Fault};

use super::page;
use crate::home::{Home, PlayersText};
use crate::look::Palette;

/// The name under which faults are told.
const FILE: &str = "chart";

/// What an empty editor suggests.
const HINT: &str = "\
title: Fog over the Lake
key: Am
metre: 4/4

| Am | F . G . | C . . G/B | % |";

/// The chart on the window's desk.
#[derive(Default)]
pub struct ChartEditor {
    /// The text as it is in the editor.
    text: String,
    /// The chart of the text, or the last one without faults.
    chart: Option<(Chart, Song)>,
    faults: Vec<Fault>,
    writing: bool,
    started: bool,
    edit: Edit,
}

/// An edit that goes on: many keys are one edit.
#[derive(Default)]
pub struct Edit(Option<f64>);

impl Edit {
    /// Seconds without a key after which an edit is over.
    const PAUSE: f64 = 2.0;

    /// The editor is not there any more: the edit is over.
    pub fn end(&mut self, home: &mut dyn Home) {
        if self.0.take().is_some() {
            home.edited();
        }
    }

    /// After an editor was drawn: tells the home of an edit when it is over.
    pub fn watch(&mut self, ui: &Ui, editor: &egui::Response, home: &mut dyn Home) {
        let now = ui.input(|input| input.time);
        if editor.changed() {
            self.0 = Some(now);
        }
        let over = |since: f64| now - since >= Self::PAUSE || !editor.has_focus();
        if self.0.is_some_and(over) {
            self.0 = None;
            home.edited();
        }
    }
}

impl ChartEditor {
    /// The page or the editor.
    pub fn ui(&mut self, ui: &mut Ui, home: &mut dyn Home, snapshot: &Snapshot) {
        let palette = Palette::of(ui);
        self.look_up(home);
        ui.horizontal(|ui| {
            ui.selectable_value(&mut self.writing, false, "Read the chart");
            ui.selectable_value(&mut self.writing, true, "Write");
            if !self.faults.is_empty() {
                let count = self.faults.len();
                let text = if count == 1 { "1 fault".into() } else { format!("{count} faults") };
                ui.label(RichText::new(format!("! {text}")).color(palette.fault).strong());
            }
        });
        ui.separator();
        if self.writing {
            self.editor(ui, home, &palette);
            list_faults(ui, &self.faults, &palette);
            if !self.faults.is_empty() && self.chart.is_some() {
                ui.label(
                    RichText::new("The last chart without faults goes on.").color(palette.faint),
                );
            }
            return;
        }
        self.edit.end(home);
        if let Some((chart, song)) = &self.chart {
            page::ui(ui, chart, song, snapshot, &palette);
        } else {
            ui.label(RichText::new("No chart: the left hand listens and learns the song as you play. Choose Write to give it one.").color(palette.faint));
        }
    }

    /// Takes over what the home has, if it was loaded or undone meanwhile.
    fn look_up(&mut self, home: &dyn Home) {
        let there = home.text(PlayersText::Chart);
        if there != self.text || !self.started {
            self.started = true;
            self.text = there;
            self.chart = None;
            self.check();
        }
    }

    fn check(&mut self) {
        if self.text.trim().is_empty() {
            (self.chart, self.faults) = (None, vec![]);
            return;
        }
        match Chart::read(FILE, &self.text) {
            Ok(chart) => {
                let song = chart.unfold();
                (self.chart, self.faults) = (Some((chart, song)), vec![]);
            }
            Err(faults) => self.faults = faults.iter().cloned().collect(),
        }
    }

    fn editor(&mut self, ui: &mut Ui, home: &mut dyn Home, palette: &Palette) {
        let faults = self.faults.clone();
        let font = TextStyle::Monospace.resolve(ui.style());
        let (ink, fault) = (palette.ink, palette.fault);
        let mut lay = |ui: &Ui, text: &dyn egui::TextBuffer, width: f32| {
            marked(ui, text.as_str(), &faults, width, &font, [ink, fault])
        };
        let editor = TextEdit::multiline(&mut self.text)
            .font(TextStyle::Monospace)
            .desired_rows(10)
            .desired_width(f32::INFINITY)
            .hint_text(HINT)
            .layouter(&mut lay);
        let editor = ui.add(editor);
        if editor.changed() {
            home.set_text(PlayersText::Chart, &self.text);
            self.check();
        }
        self.edit.watch(ui, &editor, home);
    }
}

/// The text with a red line under every fault.
fn marked(
    ui: &Ui,
    text: &str,
    faults: &[Fault],
    width: f32,
    font: &FontId,
    [ink, fault]: [Color32; 2],
) -> Arc<Galley> {
    let mut job = LayoutJob::default();
    job.wrap.max_width = width;
    let plain = TextFormat::simple(font.clone(), ink);
    let wrong = TextFormat {
        underline: Stroke::new(2.0, fault),
        background: fault.gamma_multiply(0.15),
        ..plain.clone()
    };
    for (number, line) in text.split_inclusive('\n').enumerate() {
        let mut columns = vec![false; line.chars().count()];
        for spot in faults.iter().filter_map(|fault| fault.spot.as_ref()) {
            if spot.line == number + 1 {
                let end = columns.len();
                let from = spot.column.saturating_sub(1).min(end);
                columns[from..(from + spot.width).min(end)].fill(true);
            }
        }
        for (character, bad) in line.chars().zip(columns) {
            let format = if bad && character != '\n' { &wrong } else { &plain };
            job.append(character.encode_utf8(&mut [0; 4]), 0.0, format.clone());
        }
    }
    ui.fonts_mut(|fonts| fonts.layout_job(job))
}

/// Every fault in words.
pub fn list_faults(ui: &mut Ui, faults: &[Fault], palette: &Palette) {
    for fault in faults {
        let place = fault
            .spot
            .as_ref()
            .map_or(String::new(), |spot| format!("line {}, column {}: ", spot.line, spot.column));
        ui.label(RichText::new(format!("! {place}{}", fault.what)).color(palette.fault));
        if let Some(hint) = &fault.hint {
            ui.indent(&place, |ui| ui.label(RichText::new(hint).color(palette.faint)));
        }
    }
}
