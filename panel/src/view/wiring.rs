//! The line of ports: what is heard and sent to, what is missing, and what
//! happened last.

use egui::{RichText, Ui};

use crate::home::Connections;
use crate::look::Palette;

/// A row, and one more when something happened.
pub fn ui(ui: &mut Ui, wiring: &Connections) {
    let palette = Palette::of(ui);
    ui.spacing_mut().interact_size.y = 0.0; // nothing here is touched
    ui.horizontal_wrapped(|ui| {
        for (text, is_fault) in parts(wiring) {
            let colour = if is_fault { palette.fault } else { palette.ink };
            ui.label(RichText::new(text).small().color(colour));
        }
    });
    if !wiring.said.is_empty() {
        ui.label(RichText::new(&wiring.said).small().color(palette.ink));
    }
}

/// What there is to say, and whether it is a fault; a fault begins with `!`,
/// for colour alone does not reach everybody.
fn parts(wiring: &Connections) -> Vec<(String, bool)> {
    let list = |what: &str, nothing: &str, ports: &[String]| match ports {
        [] => (format!("! {nothing}"), true),
        ports => (format!("{what} {}", ports.join(", ")), false),
    };
    let mut parts = vec![
        list("Hears", "Hears no keyboard", &wiring.from),
        list("Sends to", "Sends to nothing", &wiring.to),
    ];
    if !wiring.waits_for.is_empty() {
        parts.push((format!("! Waits for {}", wiring.waits_for.join(", ")), true));
    }
    let (dropped, late) = (wiring.dropped, wiring.late);
    parts.push((format!("Dropped {dropped}"), dropped > 0));
    parts.push((format!("Late {late}"), false));
    parts
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(wiring: &Connections) -> Vec<String> {
        parts(wiring).into_iter().map(|(text, _)| text).collect()
    }

    #[test]
    fn what_is_missing_is_marked() {
        let mut wiring = Connections { from: vec!["Keys".into()], ..Connections::default() };
        assert_eq!(said(&wiring), ["Hears Keys", "! Sends to nothing", "Dropped 0", "Late 0"]);
        wiring.to = vec!["Module".into(), "Pads".into()];
        wiring.from.clear();
        wiring.waits_for = vec!["keys".into()];
        assert_eq!(
            said(&wiring)[..3],
            ["! Hears no keyboard", "Sends to Module, Pads", "! Waits for keys"]
        );
    }
}
