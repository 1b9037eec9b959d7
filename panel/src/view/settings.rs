//! The settings, a few groups of plain rows.

use egui::{Grid, RichText, Slider, Ui};

use super::marked;
use crate::control::{ALL, Control, ControlScale, Group, Spec, Values};
use crate::home::Home;
use crate::look::Palette;

/// Width of the column of names, points: one for all groups.
const LABELS: f32 = 148.0;

/// Every control but the pattern, which has a list of its own.
pub fn ui(ui: &mut Ui, home: &mut dyn Home) {
    let values = home.values();
    let palette = Palette::of(ui);
    for group in Group::ALL {
        ui.add_space(4.0);
        ui.label(RichText::new(group.name()).heading().color(palette.ink));
        let grid = Grid::new(group.name()).num_columns(2).spacing([12.0, 6.0]);
        grid.min_col_width(LABELS).show(ui, |ui| {
            let here = |control: &Control| {
                control.spec().group == group
                    && *control != Control::Pattern
                    && home.offers(*control)
            };
            let here: Vec<_> = ALL.into_iter().filter(here).collect();
            for control in here {
                let label = marked::name(ui, home, control);
                row(ui, home, control, &values, label.id);
                ui.end_row();
            }
        });
    }
    ui.add_space(8.0);
    let reset = ui.button("Reset").on_hover_text("Everything above as it was at first.");
    if reset.clicked() {
        for control in ALL.into_iter().filter(|control| *control != Control::Pattern) {
            let first = control.spec().default;
            if home.offers(control) && values.get(control) != first {
                home.at_once(control, first);
            }
        }
    }
}

fn row(ui: &mut Ui, home: &mut dyn Home, control: Control, values: &Values, label: egui::Id) {
    let spec = control.spec();
    let mut value = values.get(control);
    match spec.scale {
        ControlScale::Switch => {
            let mut on = value != 0;
            let text = if on { "on" } else { "off" };
            let switch = ui.checkbox(&mut on, text).labelled_by(label);
            marked::menu(&switch, home, control);
            if switch.changed() {
                home.at_once(control, on.into());
            }
        }
        ControlScale::Key | ControlScale::Channel | ControlScale::Beats => {
            let chosen = egui::ComboBox::from_id_salt(spec.id)
                .selected_text(shown(control, value))
                .width(190.0)
                .show_ui(ui, |ui| {
                    for choice in spec.min..=spec.max {
                        ui.selectable_value(&mut value, choice, shown(control, choice));
                    }
                });
            marked::menu(&chosen.response.labelled_by(label), home, control);
            if value != values.get(control) {
                home.at_once(control, value);
            }
        }
        _ => slider(ui, home, control, value, spec, label),
    }
}

fn slider(
    ui: &mut Ui,
    home: &mut dyn Home,
    control: Control,
    before: i32,
    spec: &Spec,
    label: egui::Id,
) {
    let mut value = before;
    let slider = Slider::new(&mut value, spec.min..=spec.max)
        .custom_formatter(|value, _| shown(control, value as i32))
        .custom_parser(|text| control.read(text, |_| String::new()).map(f64::from));
    let response = ui.add(slider).labelled_by(label).on_hover_text(spec.help);
    marked::menu(&response, home, control);
    // The toolkit's slider follows any button; the second one opens the menu.
    let second = |input: &egui::InputState| {
        let button = egui::PointerButton::Secondary;
        input.pointer.button_down(button) || input.pointer.button_released(button)
    };
    if ui.input(second) {
        return;
    }
    let changed = value != before;
    if response.drag_started() {
        home.take_hold(control);
    }
    if changed && (response.dragged() || response.drag_stopped()) {
        home.set(control, value);
    } else if changed {
        home.at_once(control, value); // keys, typing
    }
    if response.drag_stopped() {
        home.let_go(control);
    }
}

/// With ♭ and ♯ for eyes, where hosts get ASCII.
fn shown(control: Control, value: i32) -> String {
    let text = control.show(value, |_| String::new());
    match control.spec().scale {
        ControlScale::KeyNumber | ControlScale::Key => typeset(&text),
        _ => text,
    }
}

/// `Bb3` as `B♭3`; the word "flat" never begins with a capital letter here.
fn typeset(text: &str) -> String {
    let mut out = text.replace('#', "♯");
    if out.chars().nth(1) == Some('b') && out.starts_with(|c: char| c.is_ascii_uppercase()) {
        out.replace_range(1..2, "♭");
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn flats_and_sharps_are_drawn_as_such() {
        assert_eq!(typeset("Bb3"), "B♭3");
        assert_eq!(typeset("F# minor"), "F♯ minor");
        assert_eq!(typeset("From the music"), "From the music");
        assert_eq!(shown(Control::Split, 58), "B♭3");
    }
}
