//! The chord now, in large type.

use egui::{Label, RichText, Ui, WidgetText};
use sinistra_core::chord::Symbol;
use sinistra_core::engine::Snapshot;

use super::{script, words};
use crate::look::{Palette, chord_font};

/// The usual height of the row that shows it, in points.
pub const HEIGHT: f32 = 118.0;

/// The symbol, what it is called, and the key.
pub fn ui(ui: &mut Ui, snapshot: &Snapshot, size: f32) {
    let palette = Palette::of(ui);
    ui.vertical(|ui| {
        ui.set_height(HEIGHT * size);
        ui.spacing_mut().item_spacing.y = 5.0 * size;
        if size >= 0.8 {
            ui.label(RichText::new("NOW").small().color(palette.faint));
        }
        let Some(heard) = snapshot.chord else {
            ui.label(RichText::new("–").font(chord_font(60.0 * size)).color(palette.faint));
            ui.label(RichText::new("hold a chord with your right hand").color(palette.faint));
            return;
        };
        let job = script::chord(heard.chord, snapshot.key, 60.0 * size, palette.ink);
        ui.add(Label::new(WidgetText::from(job)).selectable(false));
        let root = snapshot.key.spell(heard.chord.root);
        let mut text = format!("{root} {}", words::kind(heard.chord));
        if heard.chord.bass != heard.chord.root {
            text += &format!(" over {}", snapshot.key.spell(heard.chord.bass));
        }
        text +=
            &format!(" · in {} · {}", words::key(snapshot.key), words::certainty(heard.certainty));
        text += &words::or(snapshot.other, snapshot.key).to_string();
        let words = RichText::new(text).color(palette.faint).size((13.5 * size).max(11.5));
        ui.add(Label::new(words).truncate())
            .on_hover_text(Symbol::of(heard.chord, snapshot.key).ascii());
    });
}
