//! What comes next: which chord, how long until then, who says so, how sure.

use egui::{Align2, Label, RichText, Role, Sense, Stroke, Ui, WidgetInfo, WidgetText, pos2, vec2};
use sinistra_core::chord::Symbol;
use sinistra_core::engine::Snapshot;
use sinistra_core::foresee::Forecast;
use sinistra_core::time::Ticks;

use super::{chord::HEIGHT, script, words};
use crate::look::{Palette, chord_font, text_font};

/// Beats that the way to the next chord shows.
const BEATS_SHOWN: i64 = 8;

/// The chord to come and the way there.
pub fn ui(ui: &mut Ui, snapshot: &Snapshot, size: f32) {
    let palette = Palette::of(ui);
    ui.vertical(|ui| {
        ui.set_height(HEIGHT * size);
        ui.set_max_width(ui.available_width());
        ui.spacing_mut().item_spacing.y = 5.0 * size;
        let words = (13.5 * size).clamp(11.5, 20.0);
        if size >= 0.8 {
            ui.label(RichText::new("NEXT").small().color(palette.faint));
        }
        // While time stands still there is no time until then.
        let Some(next) = snapshot.next.filter(|_| snapshot.playing) else {
            ui.label(RichText::new("–").font(chord_font(36.0 * size)).color(palette.faint));
            ui.label(RichText::new("nothing is foreseen yet").color(palette.faint));
            return;
        };
        ui.horizontal(|ui| {
            let job = script::chord(next.chord, snapshot.key, 36.0 * size, palette.ink);
            ui.add(Label::new(WidgetText::from(job)).selectable(false));
            ui.vertical(|ui| {
                ui.add(Label::new(RichText::new(when(snapshot, &next)).size(words)).truncate());
                ui.horizontal(|ui| {
                    pips(ui, next.certainty, &palette);
                    let percent = (next.certainty * 100.0).round();
                    let sure = words::certainty(next.certainty);
                    let source = words::source(next.source);
                    let or = words::or(next.other, snapshot.key);
                    let text = format!("{sure} ({percent} %){or}, {source}");
                    let text = RichText::new(text).color(palette.faint).size(words);
                    ui.add(Label::new(text).truncate());
                });
            });
        });
        if size >= 0.8 {
            way(ui, snapshot, &next, &palette);
        }
    });
}

/// `in 2 beats, on 3 &`.
fn when(snapshot: &Snapshot, next: &Forecast) -> String {
    let left = next.at - snapshot.at;
    if left <= Ticks::ZERO {
        return "now".into();
    }
    let pulse = snapshot.place.metre.pulse().0;
    let beats = (left.0 + pulse - 1) / pulse;
    let place = snapshot.place.of(next.at);
    let count = words::count(place.metre, place.offset(next.at));
    let beat = if beats == 1 { "beat" } else { "beats" };
    let bars = place.number - snapshot.place.of(snapshot.at).number;
    let bar = match bars {
        0 => "of this bar".into(),
        1 => "of the next bar".into(),
        _ => format!("{bars} bars on"),
    };
    format!("in {beats} {beat}, on {count} {bar}")
}

/// Certainty as filled and empty pips.
fn pips(ui: &mut Ui, certainty: f32, palette: &Palette) {
    let (rect, _) = ui.allocate_exact_size(vec2(62.0, 14.0), Sense::hover());
    let full = (certainty.clamp(0.0, 1.0) * 5.0).round() as usize;
    for n in 0..5 {
        let centre = pos2(rect.left() + 7.0 + 12.0 * n as f32, rect.center().y);
        if n < full {
            ui.painter().circle_filled(centre, 4.5, palette.ink);
        } else {
            ui.painter().circle_stroke(centre, 4.0, Stroke::new(1.2, palette.faint));
        }
    }
}

/// The beats from here to the change; the hand walks along them.
fn way(ui: &mut Ui, snapshot: &Snapshot, next: &Forecast, palette: &Palette) {
    let (response, painter) =
        ui.allocate_painter(vec2(ui.available_width().min(420.0), 26.0), Sense::hover());
    let rect = response.rect.shrink2(vec2(12.0, 4.0));
    let pulse = snapshot.place.metre.pulse().0 as f32;
    let beats = BEATS_SHOWN as f32;
    let left = ((next.at - snapshot.at).0 as f32 / pulse).clamp(0.0, beats);
    let x = |beats_before: f32| rect.right() - beats_before / beats * rect.width();
    let y = rect.center().y;
    painter.hline(rect.left()..=rect.right(), y, Stroke::new(1.0, palette.line));
    for beat in 0..=BEATS_SHOWN {
        let half = if beat == 0 { 9.0 } else { 4.0 };
        painter.vline(x(beat as f32), y - half..=y + half, Stroke::new(1.5, palette.line));
    }
    painter.hline(x(left)..=rect.right(), y, Stroke::new(4.0, palette.left));
    painter.circle_filled(pos2(x(left), y), 6.0, palette.left);
    let symbol = Symbol::of(next.chord, snapshot.key).to_string();
    if left >= beats {
        painter.text(
            rect.left_center() + vec2(12.0, -8.0),
            Align2::LEFT_CENTER,
            "…",
            text_font(12.0),
            palette.faint,
        );
    }
    let said = format!("{symbol} {}", when(snapshot, next));
    response.widget_info(|| WidgetInfo::labeled(Role::ProgressIndicator, true, &said));
}
