//! What to practise: patterns in teaching order with what each step adds, the
//! chart, the key, the hands, the tempo to reach.

use egui::{Align, Button, Layout, RichText, ScrollArea, TextEdit, Ui};

use sinistra_score::practice::Hands;

use super::files::FileList;
use super::scene::{Pick, RoomScene, Studio};
use crate::look::Palette;

/// The choice before it is asked for.
#[derive(Default)]
pub struct ChoicePage {
    /// What is chosen so far; `None` while the music is shown.
    pick: Option<Pick>,
    path: String,
    /// Files to choose from, while they are looked at.
    files: Option<FileList>,
    /// The goal as it is typed.
    goal: String,
}

const HANDS: [(Hands, &str); 3] =
    [(Hands::Left, "Left"), (Hands::Right, "Right"), (Hands::Both, "Both")];

impl ChoicePage {
    /// Whether it takes the place of the music.
    pub fn is_open(&self) -> bool {
        self.pick.is_some()
    }

    /// Makes room for the music.
    pub fn close(&mut self) {
        self.pick = None;
    }

    /// Opens it on what is practised now, or closes it.
    pub fn toggle(&mut self, scene: &RoomScene) {
        self.pick = if self.is_open() { None } else { Some(scene.pick.clone()) };
        self.goal = scene.pick.goal.map_or_else(String::new, |goal| format!("{goal:.0}"));
        let ships = scene.shelf.charts.iter().any(|card| card.slug == scene.pick.chart);
        self.path = if ships { String::new() } else { scene.pick.chart.clone() };
    }

    /// Two columns, and what begins it.
    pub fn ui(
        &mut self,
        ui: &mut Ui,
        scene: &RoomScene,
        palette: &Palette,
        studio: &mut dyn Studio,
    ) {
        let Some(mut pick) = self.pick.clone() else { return };
        let mut done = false;
        ui.horizontal_wrapped(|ui| {
            ui.label(RichText::new("What to practise").heading().strong());
            if ui.button(RichText::new("Practise this").size(16.0).strong()).clicked() {
                pick.goal = self.goal.trim().parse().ok().filter(|goal| GOALS.contains(goal));
                studio.pick(pick.clone());
                done = true;
            }
            done |= ui.button(RichText::new("Back").size(16.0)).clicked();
        });
        ui.separator();
        // Columns stretch their words; ours stay as they are.
        let plain = Layout::top_down(Align::Min);
        ui.columns(2, |columns| {
            if let [left, right] = columns {
                ScrollArea::vertical().id_salt("patterns").show(left, |ui| {
                    ui.with_layout(plain, |ui| patterns(ui, scene, palette, &mut pick));
                });
                ScrollArea::vertical().id_salt("rest").show(right, |ui| {
                    self.charts(ui, scene, &mut pick, studio);
                    self.manner(ui, scene, &mut pick);
                });
            }
        });
        self.pick = if done { None } else { Some(pick) };
    }

    fn charts(&mut self, ui: &mut Ui, scene: &RoomScene, pick: &mut Pick, studio: &dyn Studio) {
        ui.label(RichText::new("Chart").strong());
        for card in &scene.shelf.charts {
            if ui.selectable_label(pick.chart == card.slug, &card.name).clicked() {
                (pick.chart, pick.key) = (card.slug.clone(), None);
                self.path.clear();
            }
        }
        let label = ui.label("or a file (text or MusicXML):");
        let field = TextEdit::singleline(&mut self.path)
            .desired_width(f32::INFINITY)
            .hint_text("the path of a chart");
        if ui.add(field).labelled_by(label.id).changed() && !self.path.trim().is_empty() {
            (pick.chart, pick.key) = (self.path.trim().to_owned(), None);
        }
        let look = Button::new("Look for it…").selected(self.files.is_some());
        if ui.add(look).clicked() {
            self.files = match self.files {
                Some(_) => None,
                None => Some(FileList::at(studio.first_folder(), studio)),
            };
        }
        if let Some(path) = self.files.as_mut().and_then(|files| files.ui(ui, studio)) {
            self.path = path.display().to_string();
            (pick.chart, pick.key, self.files) = (self.path.clone(), None, None);
        }
        ui.add_space(8.0);
    }

    fn manner(&mut self, ui: &mut Ui, scene: &RoomScene, pick: &mut Pick) {
        ui.label(RichText::new("Key").strong());
        ui.horizontal_wrapped(|ui| {
            ui.selectable_value(&mut pick.key, None, "the chart's");
            for key in &scene.shelf.keys {
                ui.selectable_value(&mut pick.key, Some(key.clone()), key);
            }
        });
        ui.add_space(8.0);
        ui.label(RichText::new("Hands").strong());
        ui.horizontal_wrapped(|ui| {
            for (hands, name) in HANDS {
                ui.selectable_value(&mut pick.hands, hands, name);
            }
        });
        let free = "Free: any left hand that keeps to the rule counts";
        ui.add_enabled_ui(pick.hands == Hands::Left, |ui| ui.checkbox(&mut pick.free, free));
        ui.add_space(8.0);
        ui.horizontal_wrapped(|ui| {
            let label = ui.label(RichText::new("Tempo to reach").strong());
            let field = TextEdit::singleline(&mut self.goal).desired_width(60.0).hint_text("as is");
            ui.add(field).labelled_by(label.id);
            ui.label("felt beats a minute, 10 to 400");
        });
    }
}

/// Felt beats a minute.
const GOALS: std::ops::RangeInclusive<f64> = 10.0..=400.0;

fn patterns(ui: &mut Ui, scene: &RoomScene, palette: &Palette, pick: &mut Pick) {
    ui.label(RichText::new("Pattern, in teaching order").strong());
    for (place, card) in scene.shelf.patterns.iter().enumerate() {
        let chosen = pick.pattern == card.slug;
        let text = RichText::new(format!("{}  {}", place + 1, card.name)).strong();
        if ui.selectable_label(chosen, text).clicked() {
            pick.pattern.clone_from(&card.slug);
        }
        ui.indent(&card.slug, |ui| ui.label(RichText::new(&card.about).color(palette.faint)));
    }
}
