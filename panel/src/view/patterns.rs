//! The patterns in teaching order, and the player's own as text.

use egui::{RichText, TextEdit, TextStyle, Ui};
use sinistra_score::{Chart, Fault, PatternFile, pattern_presets};

use super::set_ups::SetUpList;
use super::words;
use crate::control::Control;
use crate::home::{Home, PatternCard, PlayersText};
use crate::look::Palette;

/// The name under which faults of the own pattern are told.
const FILE: &str = "my pattern";

/// The editor of the player's own pattern.
#[derive(Default)]
pub struct PatternEditor {
    text: Option<String>,
    set_ups: SetUpList,
    edit: super::chart::Edit,
    faults: Vec<Fault>,
    fitted: FittedPattern,
}

/// What is said of the pattern in the chart's metres, by its name, its text where it is
/// the player's own, and the chart's text.
#[derive(Default)]
struct FittedPattern {
    of: Option<[String; 3]>,
    said: Option<String>,
}

impl FittedPattern {
    fn look(&mut self, home: &dyn Home, cards: &[PatternCard]) -> Option<&str> {
        let number = home.values().get(Control::Pattern);
        let card = cards.iter().find(|card| card.number == number);
        let name = card.map_or_else(String::new, |card| card.name.clone());
        let own = if number == 0 { home.text(PlayersText::OwnPattern) } else { String::new() };
        let of = [name, own, home.text(PlayersText::Chart)];
        if self.of.as_ref() != Some(&of) {
            self.said = said(&of);
            self.of = Some(of);
        }
        self.said.as_deref()
    }
}

fn said([name, own, chart]: &[String; 3]) -> Option<String> {
    let chart = Chart::read(FILE, chart).ok()?;
    let ships = || {
        let mut all = pattern_presets().iter();
        all.find(|preset| preset.read().is_ok_and(|file| file.name == *name))?.compile().ok()
    };
    let pattern = if own.is_empty() { ships()? } else { PatternFile::compile(FILE, own).ok()? };
    words::fitted(&pattern, chart.unfold().bars().iter().map(|bar| bar.metre))
}

impl PatternEditor {
    /// The list, and the editor if the player's own pattern is chosen.
    pub fn ui(&mut self, ui: &mut Ui, home: &mut dyn Home) {
        let palette = Palette::of(ui);
        self.set_ups.ui(ui, home);
        let cards = home.patterns();
        if let Some(fitted) = self.fitted.look(home, &cards) {
            ui.label(RichText::new(fitted).strong());
        }
        let chosen = home.values().get(Control::Pattern);
        for (place, card) in cards.iter().enumerate() {
            let is_chosen = card.number == chosen;
            let mark = if is_chosen { "▶" } else { "  " };
            let text = format!("{mark} {}  {}", place + 1, card.name);
            let response = ui.selectable_label(is_chosen, RichText::new(text).strong());
            if response.on_hover_text(&card.about).clicked() {
                home.at_once(Control::Pattern, card.number);
            }
            if is_chosen {
                ui.indent("about", |ui| ui.label(RichText::new(&card.about).color(palette.faint)));
            }
        }
        let own = chosen == 0;
        let mark = if own { "▶" } else { "  " };
        if ui.selectable_label(own, format!("{mark} My own pattern")).clicked() {
            home.at_once(Control::Pattern, 0);
        }
        if own {
            self.editor(ui, home, &palette);
        } else {
            self.text = None;
        }
    }

    fn editor(&mut self, ui: &mut Ui, home: &mut dyn Home, palette: &Palette) {
        let text = self.text.get_or_insert_with(|| home.text(PlayersText::OwnPattern));
        if text.is_empty() {
            text.push_str(EXAMPLE);
            home.set_text(PlayersText::OwnPattern, text);
        }
        let editor = TextEdit::multiline(text)
            .font(TextStyle::Monospace)
            .desired_rows(9)
            .desired_width(f32::INFINITY)
            .hint_text("a pattern in TOML");
        let editor = ui.add(editor);
        if editor.changed() {
            home.set_text(PlayersText::OwnPattern, text);
        }
        self.edit.watch(ui, &editor, home);
        self.faults = match PatternFile::compile(FILE, text) {
            Ok(_) => vec![],
            Err(faults) => faults.iter().cloned().collect(),
        };
        super::chart::list_faults(ui, &self.faults, palette);
    }
}

/// What an empty editor starts with.
const EXAMPLE: &str = "\
name = \"My own\"
about = \"\"

[[bar]]
metre = \"4/4\"
count = \"1    &    3     &\"
play  = \"root root fifth root\"
";

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_example_is_a_pattern() {
        assert!(PatternFile::compile(FILE, EXAMPLE).is_ok());
    }
}
