//! The host's marks on a control's name, and the menu that the second button opens.

use egui::{Color32, Popup, Response, Role, Sense, SetOpenCommand, Ui, WidgetInfo, vec2};

use crate::control::Control;
use crate::home::Home;
use crate::host::{Automation, HostMark, HostMenuEntry, HostMenuKind};
use crate::look::Palette;

/// The width and height of a mark, points.
const SIZE: f32 = 10.0;

/// A control's name, behind the host's marks on it.
pub fn name(ui: &mut Ui, home: &mut dyn Home, control: Control) -> Response {
    let spec = control.spec();
    let label = ui
        .horizontal(|ui| {
            let mark = home.host_mark(control);
            marks(ui, &mark);
            ui.label(spec.name)
        })
        .inner;
    let label = label.on_hover_text(spec.help);
    menu(&label, home, control);
    label
}

/// A disc for a controller that moves it, a square for its automation: hollow where that
/// does not play.
fn marks(ui: &mut Ui, mark: &HostMark) {
    let words = mark.words();
    if words.is_empty() {
        return;
    }
    let palette = Palette::of(ui);
    let colour =
        |rgb: Option<[u8; 3]>, usual| rgb.map_or(usual, |[r, g, b]| Color32::from_rgb(r, g, b));
    let both =
        f32::from(u8::from(mark.mapped.is_some()) + u8::from(mark.automation != Automation::None));
    let (place, response) = ui.allocate_exact_size(vec2(both * (SIZE + 2.0), SIZE), Sense::hover());
    let mut middle = place.left_center() + vec2(SIZE / 2.0, 0.0);
    if let Some(mapped) = &mark.mapped {
        ui.painter().circle_filled(middle, SIZE / 2.0, colour(mapped.colour, palette.right));
        middle.x += SIZE + 2.0;
    }
    let usual = if mark.automation == Automation::Records { palette.fault } else { palette.left };
    let (square, colour) =
        (egui::Rect::from_center_size(middle, vec2(SIZE, SIZE)), colour(mark.colour, usual));
    match mark.automation {
        Automation::None => {}
        Automation::Plays | Automation::Records => {
            ui.painter().rect_filled(square, 1.0, colour);
        }
        Automation::Present | Automation::Overridden => {
            let stroke = (2.0, colour);
            ui.painter().rect_stroke(square, 1.0, stroke, egui::StrokeKind::Inside);
        }
    }
    let said = words.join(". ");
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, &said));
    response.on_hover_text(words.join("\n"));
}

/// The second button over `response` opens what can be done with a control: ours, and
/// what the host offers.
pub fn menu(response: &Response, home: &mut dyn Home, control: Control) {
    // Over the widget: a slider senses no clicks.
    let second = |input: &egui::InputState| input.pointer.secondary_clicked();
    let asked = response.contains_pointer() && response.ctx.input(second);
    if asked {
        home.ask_menu(control);
    }
    let popup = Popup::menu(response).id(response.id.with("host")).at_pointer_fixed();
    popup.open_memory(asked.then_some(SetOpenCommand::Bool(true))).show(|ui| {
        let first = control.spec().default;
        if ui.button("As it was at first").clicked() {
            home.at_once(control, first);
            ui.close();
        }
        let entries = home.menu(control);
        if !entries.is_empty() {
            ui.separator();
        }
        for entry in &entries {
            if shown(ui, entry) {
                home.choose(control, entry.number);
                ui.close();
            }
        }
    });
}

/// Whether it was chosen.
fn shown(ui: &mut Ui, entry: &HostMenuEntry) -> bool {
    match entry.kind {
        HostMenuKind::Action => {
            ui.add_enabled(entry.enabled, egui::Button::new(&entry.label)).clicked()
        }
        HostMenuKind::Switch(on) => {
            let button = egui::Button::new(&entry.label).selected(on);
            ui.add_enabled(entry.enabled, button).clicked()
        }
        HostMenuKind::Title => {
            ui.weak(&entry.label);
            false
        }
        HostMenuKind::Rule => {
            ui.separator();
            false
        }
    }
}
