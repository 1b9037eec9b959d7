//! The chord now, in large type.

use egui::{Label, RichText, Ui, WidgetText};
use sinistra_core::chord::Symbol;
use sinistra_core::engine::Snapshot;

use super::{script, words};
use crate::look::{Palette, chord_font};

/// Height of the row that shows it, in points.
pub const HEIGHT: f32 = 118.0;

/// The symbol, what it is called, and the key.
pub fn ui(ui: &mut Ui, snapshot: &Snapshot) {
    let palette = Palette::of(ui);
    ui.vertical(|ui| {
        ui.set_height(HEIGHT);
        ui.label(RichText::new("NOW").small().color(palette.faint));
        let Some(heard) = snapshot.chord else {
            ui.label(RichText::new("–").font(chord_font(60.0)).color(palette.faint));
            ui.label(RichText::new("hold a chord with your right hand").color(palette.faint));
            return;
        };
        let job = script::chord(heard.chord, snapshot.key, 60.0, palette.ink);
        ui.add(Label::new(WidgetText::from(job)).selectable(false));
        let root = snapshot.key.spell(heard.chord.root);
        let mut text = format!("{root} {}", words::kind(heard.chord));
        if heard.chord.bass != heard.chord.root {
            text += &format!(" over {}", snapshot.key.spell(heard.chord.bass));
        }
        text +=
            &format!(" · in {} · {}", words::key(snapshot.key), words::certainty(heard.certainty));
        ui.label(RichText::new(text).color(palette.faint))
            .on_hover_text(Symbol::of(heard.chord, snapshot.key).ascii());
    });
}
