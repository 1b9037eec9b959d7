//! Ports with their lights, loudness, and the messages that went by.

use egui::{Color32, RichText, ScrollArea, Sense, Slider, Stroke, Ui, vec2};

use super::buttons::{StageKey, TARGET, row};
use super::scene::{ControlLine, Port, StageScene, StageWish, Turn};
use crate::look::Palette;

/// Ports, and what controls do. Two columns where there is room.
pub fn ui(ui: &mut Ui, scene: &StageScene, ask: &mut Vec<StageWish>) {
    ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
        ui.set_width(ui.available_width() - 12.0); // beside the scroll bar
        if ui.available_width() < 640.0 {
            chosen(ui, scene, ask);
            controls(ui, scene, ask);
            return passed(ui, scene);
        }
        ui.columns(2, |columns| {
            if let [one, other] = columns {
                chosen(one, scene, ask);
                controls(one, scene, ask);
                passed(other, scene);
            }
        });
    });
}

fn chosen(ui: &mut Ui, scene: &StageScene, ask: &mut Vec<StageWish>) {
    ui.heading("Hears");
    if let Some((port, on)) = list(ui, "hears", &scene.inputs, "no keyboard is there") {
        ask.push(StageWish::Hear(port, on));
    }
    ui.heading("Sends to");
    if let Some((port, on)) = list(ui, "sends", &scene.outputs, "no sound module is there") {
        ask.push(StageWish::SendTo(port, on));
    }
    zones(ui, scene, ask);
    ui.heading("Loudness");
    if let Some(piano) = scene.piano
        && let Some(value) = loudness(ui, "Piano", piano, 100)
    {
        ask.push(StageWish::Piano(value));
    }
    if let Some(value) = loudness(ui, "Metronome", scene.metronome, 120) {
        ask.push(StageWish::Metronome(value));
    }
}

/// A line a zone, and what can be turned at it.
fn zones(ui: &mut Ui, scene: &StageScene, ask: &mut Vec<StageWish>) {
    ui.heading("Where each hand sounds");
    for (n, zone) in scene.zones.iter().enumerate() {
        ui.label(zone);
        let turns = [
            ("−1", Turn::Down),
            ("+1", Turn::Up),
            ("−12", Turn::OctaveDown),
            ("+12", Turn::OctaveUp),
            ("Touch", Turn::Touch),
            ("Channel", Turn::Channel),
        ];
        let mut keys: Vec<_> = turns.iter().map(|(name, _)| StageKey::new(*name, "")).collect();
        keys.push(StageKey::new("Remove", ""));
        if let Some(pressed) = ui.push_id(("zone", n), |ui| row(ui, TARGET, &keys)).inner {
            let wish = turns.get(pressed).map(|(_, turn)| StageWish::Zone(n, *turn));
            ask.push(wish.unwrap_or(StageWish::RemoveZone(n)));
        }
    }
    if scene.zones.is_empty() {
        let text = "Both hands go to every module, as they are played.";
        ui.label(RichText::new(text).color(Palette::of(ui).faint));
    }
    if row(ui, TARGET, &[StageKey::new("Add a zone", "")]).is_some() {
        ask.push(StageWish::AddZone);
    }
}

/// What each control does: pressed, the next control that is moved does that.
fn controls(ui: &mut Ui, scene: &StageScene, ask: &mut Vec<StageWish>) {
    ui.heading("Pedals, knobs and pads");
    let waits = scene.controls.iter().any(|line| line.waits);
    let text = if waits { "Now move the control." } else { "Press one, then move its control." };
    ui.label(RichText::new(text).color(Palette::of(ui).faint));
    for (n, lines) in scene.controls.chunks(2).enumerate() {
        let key = |line: &ControlLine| {
            let by = if line.waits { "…" } else { &line.moved_by };
            let label =
                if by.is_empty() { line.does.clone() } else { format!("{}: {by}", line.does) };
            StageKey::new(label, "").lit(line.waits)
        };
        let keys: Vec<_> = lines.iter().map(key).collect();
        let pressed = ui.push_id(("control", n), |ui| row(ui, TARGET, &keys)).inner;
        ask.extend(pressed.map(|place| StageWish::Learn(2 * n + place)));
    }
}

/// The port that was pressed, and whether it shall be open.
fn list(ui: &mut Ui, id: &str, ports: &[Port], none: &str) -> Option<(String, bool)> {
    let palette = Palette::of(ui);
    let mut pressed = None;
    for (n, port) in ports.iter().enumerate() {
        ui.push_id((id, n), |ui| {
            ui.horizontal(|ui| {
                light(ui, port, &palette);
                let mark = if port.open { "✓" } else { "  " };
                let key = StageKey::new(format!("{mark} {}", port.name), "").lit(port.open);
                if row(ui, TARGET, &[key]).is_some() {
                    pressed = Some((port.name.clone(), !port.open));
                }
            });
        });
    }
    if ports.is_empty() {
        ui.label(RichText::new(none).color(palette.faint));
    }
    pressed
}

/// Filled while messages pass; a ring while the port is open.
fn light(ui: &mut Ui, port: &Port, palette: &Palette) {
    let (rect, response) = ui.allocate_exact_size(vec2(18.0, TARGET), Sense::hover());
    let (fill, ring) = match (port.open, port.active) {
        (true, true) => (palette.left, palette.ink),
        (true, false) => (Color32::TRANSPARENT, palette.ink),
        (false, _) => (Color32::TRANSPARENT, palette.line),
    };
    ui.painter().circle(rect.center(), 7.0, fill, Stroke::new(1.5, ring));
    response.on_hover_text(if port.active { "messages pass" } else { "no message passes" });
}

fn loudness(ui: &mut Ui, name: &str, before: u8, most: u8) -> Option<u8> {
    let mut value = before;
    ui.horizontal(|ui| {
        ui.add_sized(vec2(92.0, TARGET), egui::Label::new(name));
        ui.spacing_mut().slider_width = (ui.available_width() - 110.0).max(80.0);
        ui.add(Slider::new(&mut value, 0..=most).suffix(" %"));
    });
    (value != before).then_some(value)
}

fn passed(ui: &mut Ui, scene: &StageScene) {
    let palette = Palette::of(ui);
    ui.heading("Last messages");
    if scene.passed.is_empty() {
        ui.label(RichText::new("none yet").color(palette.faint));
    }
    for passed in scene.passed.iter().rev() {
        let (arrow, colour) =
            if passed.sent { ("→ out", palette.left) } else { ("← in ", palette.right) };
        ui.label(RichText::new(format!("{arrow}  {}", passed.text)).monospace().color(colour));
    }
}
