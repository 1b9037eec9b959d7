//! Where the look of a window is chosen: its size, light or dark.

use egui::{ComboBox, Ui};

use super::LookChoice;

/// Shows `before`, from the right edge on; what was chosen instead, if it was.
pub fn chooser(ui: &mut Ui, before: LookChoice) -> Option<LookChoice> {
    let mut look = before;
    // From the right edge: the size stands behind its word.
    let size = ComboBox::from_id_salt("scale")
        .selected_text(format!("{} %", look.scale))
        .width(70.0)
        .show_ui(ui, |ui| {
            for scale in LookChoice::SCALES {
                ui.selectable_value(&mut look.scale, scale, format!("{scale} %"));
            }
        })
        .response
        .on_hover_text("Size of the window");
    let word = ui.label("Size");
    size.labelled_by(word.id);
    let name = if look.dark { "Light" } else { "Dark" };
    if ui.button(name).on_hover_text("Paper or slate").clicked() {
        look.dark = !look.dark;
    }
    (look != before).then_some(look)
}
