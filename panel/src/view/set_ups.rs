//! Set-ups to choose from: those that ship, and the player's own, which are files.

use egui::{Button, RichText, TextEdit, Ui};

use crate::control::{Control, OwnSetUp, SET_UPS, own_set_ups};
use crate::home::Home;
use crate::look::Palette;

/// The list, and the name of one to be kept.
#[derive(Default)]
pub struct SetUpList {
    /// As they were when the list was last opened.
    own: Option<Vec<OwnSetUp>>,
    name: String,
    /// What the last try to read or keep one said.
    said: String,
}

impl SetUpList {
    /// The list; the one that is set is named.
    pub fn ui(&mut self, ui: &mut Ui, home: &mut dyn Home) {
        if self.own.is_none() {
            self.look(home);
        }
        let values = home.values();
        let set = SET_UPS.iter().find(|set_up| set_up.is(&values));
        let own = self.own.iter().flatten().find(|set_up| set_up.is(&values)).cloned();
        let name = set.map(|set_up| set_up.name.to_owned());
        let name = name.or(own.as_ref().map(|own| own.name.clone()));
        let mut chosen: Option<Vec<(Control, i32)>> = None;
        ui.horizontal(|ui| {
            let label = ui.label("Set-up");
            let list = egui::ComboBox::from_id_salt("set-ups")
                .selected_text(name.as_deref().unwrap_or("of your own"))
                .width(190.0)
                .show_ui(ui, |ui| {
                    for set_up in self.own.iter().flatten() {
                        let is = own.as_ref() == Some(set_up);
                        let row = ui.selectable_label(is, RichText::new(&set_up.name).italics());
                        if row.on_hover_text(&set_up.about).clicked() {
                            chosen = Some(set_up.values().into());
                        }
                    }
                    for set_up in SET_UPS {
                        let is = set.is_some_and(|set| set.name == set_up.name);
                        if ui
                            .selectable_label(is, set_up.name)
                            .on_hover_text(set_up.about)
                            .clicked()
                        {
                            chosen = Some(set_up.values().into());
                        }
                    }
                });
            if list.response.clicked() {
                self.look(home);
            }
            list.response.labelled_by(label.id);
        });
        for (control, value) in chosen.into_iter().flatten() {
            if home.offers(control) && values.get(control) != value {
                home.at_once(control, value);
            }
        }
        let about = set.map(|set| set.about.to_owned()).or(own.map(|own| own.about));
        match about {
            Some(about) => {
                ui.label(RichText::new(about).color(Palette::of(ui).faint));
            }
            None => self.keep(ui, home),
        }
        if !self.said.is_empty() {
            ui.label(RichText::new(&self.said).small());
        }
        ui.separator();
    }

    /// A set-up that is none yet can be kept under a name.
    fn keep(&mut self, ui: &mut Ui, home: &dyn Home) {
        let Some(folder) = home.set_ups() else { return };
        ui.horizontal(|ui| {
            let field = TextEdit::singleline(&mut self.name).desired_width(120.0);
            ui.add(field.hint_text("a name for it"));
            let may = !self.name.trim().is_empty();
            if ui.add_enabled(may, Button::new("Keep set-up")).clicked() {
                let own = OwnSetUp::of(&self.name, &home.values());
                match own.keep(&folder, |number| name_of(home, number)) {
                    Ok(path) => {
                        self.look(home);
                        self.said = format!("kept: {}", path.display());
                        self.name.clear();
                    }
                    Err(why) => self.said = why,
                }
            }
        });
    }

    fn look(&mut self, home: &dyn Home) {
        let own = home.set_ups().map(|at| own_set_ups(&at, |number| name_of(home, number)));
        let (own, faults) = own.unwrap_or_default();
        (self.own, self.said) = (Some(own), faults.join("\n"));
    }
}

fn name_of(home: &dyn Home, number: i32) -> String {
    let cards = home.patterns();
    cards.into_iter().find(|card| card.number == number).map_or_else(String::new, |card| card.name)
}
