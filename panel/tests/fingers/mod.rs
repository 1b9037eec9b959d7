//! A window without a screen, and fingers for it.
#![allow(dead_code, clippy::panic, reason = "no test uses all of it; one that fails panics")]

use egui::accesskit::Role;
use egui::{Ui, Vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};

/// A window of this size, drawn until it stands still.
pub fn window<'a, S: 'a>(
    (width, height): (f32, f32),
    state: S,
    ui: impl FnMut(&mut Ui, &mut S) + 'a,
) -> Harness<'a, S> {
    let size = Vec2::new(width, height);
    let mut harness = Harness::builder().with_size(size).build_ui_state(ui, state);
    harness.run_steps(3);
    harness
}

/// Clicks on the button or choice of that name, or whose name begins so.
pub fn press<S>(harness: &mut Harness<'_, S>, label: &str) {
    let begins = || {
        harness
            .query_all_by_role(Role::Button)
            .find(|node| node.accesskit_node().label().is_some_and(|its| its.starts_with(label)))
    };
    let found = harness.query_all_by_role_and_label(Role::Button, label).next().or_else(begins);
    found.unwrap_or_else(|| panic!("there is no {label}")).click();
    harness.run_steps(3);
}

/// Clicks on whatever has that name.
pub fn click<S>(harness: &mut Harness<'_, S>, label: &str) {
    harness.get_by_label(label).click();
    harness.run_steps(3);
}

/// Presses a key of the computer's.
pub fn key<S>(harness: &mut Harness<'_, S>, key: egui::Key) {
    harness.key_press(key);
    harness.run_steps(3);
}

/// Whether anything in the window says so.
pub fn says<S>(harness: &Harness<'_, S>, text: &str) -> bool {
    harness.query_all_by_label_contains(text).next().is_some()
}

/// The place of the largest letters that are painted for a text, in points.
pub fn letters<S>(harness: &Harness<'_, S>, text: &str) -> Option<egui::Rect> {
    let places = painted(harness).into_iter().filter(|(said, _)| said == text);
    places.map(|(_, place)| place).max_by(|a, b| a.height().total_cmp(&b.height()))
}

/// All words that are painted and their places, in points.
pub fn painted<S>(harness: &Harness<'_, S>) -> Vec<(String, egui::Rect)> {
    fn look(shape: &egui::Shape, found: &mut Vec<(String, egui::Rect)>) {
        match shape {
            egui::Shape::Text(shape) => {
                let place = shape.galley.mesh_bounds.translate(shape.pos.to_vec2());
                found.push((shape.galley.text().to_owned(), place));
            }
            egui::Shape::Vec(shapes) => shapes.iter().for_each(|shape| look(shape, found)),
            _ => {}
        }
    }
    let mut found = Vec::new();
    harness.output().shapes.iter().for_each(|clipped| look(&clipped.shape, &mut found));
    found
}
