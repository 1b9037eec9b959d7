//! Rows of large buttons, to be hit without looking for long.

use egui::{Button, RichText, TextWrapMode, Ui, vec2};

/// The height of whatever is touched, points: a fingertip's width (WCAG 2.2,
/// "Target size (enhanced)": 44 by 44).
pub const TARGET: f32 = 44.0;

/// A button of a row.
pub struct StageKey {
    /// What is written on it.
    pub label: String,
    /// Its key on the computer's keyboard, if it has one.
    pub key: &'static str,
    /// Whether it is lit.
    pub on: bool,
    /// Whether it can be pressed.
    pub may: bool,
    /// Its width beside the others'.
    pub wide: f32,
}

impl StageKey {
    /// One that can be pressed.
    pub fn new(label: impl Into<String>, key: &'static str) -> Self {
        Self { label: label.into(), key, on: false, may: true, wide: 1.0 }
    }

    /// Lit or not.
    #[must_use]
    pub fn lit(self, on: bool) -> Self {
        Self { on, ..self }
    }

    /// Only if it may.
    #[must_use]
    pub fn only_if(self, may: bool) -> Self {
        Self { may, ..self }
    }

    /// So many times as wide as others.
    #[must_use]
    pub fn wide(self, wide: f32) -> Self {
        Self { wide, ..self }
    }
}

/// A row over the whole width; the place of the one that was pressed.
pub fn row(ui: &mut Ui, height: f32, keys: &[StageKey]) -> Option<usize> {
    let gap = ui.spacing().item_spacing.x;
    let room = ui.available_width() - gap * (keys.len().max(1) - 1) as f32;
    let one = width_of_one(room, keys);
    let mut pressed = None;
    ui.horizontal(|ui| {
        for (n, key) in keys.iter().enumerate() {
            let width = (one * key.wide).max(TARGET);
            // The key's name stands where there is room for both; letters make room.
            let fits = |letters: usize| (width - 18.0) / (0.6 * letters.max(1) as f32);
            let usual = (0.34 * height).clamp(13.0, 22.0);
            let letters = key.label.chars().count() + 1;
            let both = letters + key.key.len() + 3;
            let with_key = !key.key.is_empty() && fits(both) >= 0.8 * usual;
            let size = fits(if with_key { both } else { letters }).clamp(11.0, usual);
            let text = match with_key {
                true => format!("{} ({})", key.label, key.key),
                false => key.label.clone(),
            };
            let button = Button::new(RichText::new(text).size(size))
                .selected(key.on)
                .wrap_mode(TextWrapMode::Truncate);
            let response =
                ui.add_enabled_ui(key.may, |ui| ui.add_sized(vec2(width, height), button)).inner;
            let response = match key.key {
                "" => response,
                name => response.on_hover_text(format!("{}: key {name}", key.label)),
            };
            if response.clicked() {
                pressed = Some(n);
                // The keys go on meaning what they say on the buttons.
                response.surrender_focus();
            }
        }
    });
    pressed
}

/// The width of a key of the usual width, so that all fit and none is narrower than
/// a finger.
fn width_of_one(room: f32, keys: &[StageKey]) -> f32 {
    let all = |keys: &mut dyn Iterator<Item = &StageKey>| keys.map(|key| key.wide).sum::<f32>();
    let mut one = room / all(&mut keys.iter()).max(1.0);
    for _ in keys {
        let narrow = keys.iter().filter(|key| one * key.wide < TARGET).count();
        let rest = all(&mut keys.iter().filter(|key| one * key.wide >= TARGET));
        one = (room - TARGET * narrow as f32) / rest.max(1.0);
    }
    one.max(1.0)
}
