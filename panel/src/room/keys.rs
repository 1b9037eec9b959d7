//! The computer's keyboard: every button has a key.

use egui::{Key, Ui};

use super::buttons::may;
use super::music::Music;
use super::scene::{Scene, Studio, Wish};

/// Each wish and its key, in the order of the buttons.
pub const KEYS: [(Wish, Key, &str); 9] = [
    (Wish::Next, Key::Enter, "Enter"),
    (Wish::Again, Key::A, "A"),
    (Wish::Slower, Key::S, "S"),
    (Wish::Faster, Key::F, "F"),
    (Wish::Hear, Key::H, "H"),
    (Wish::Together, Key::T, "T"),
    (Wish::Alone, Key::L, "L"),
    (Wish::Stop, Key::Escape, "Esc"),
    (Wish::NextLesson, Key::N, "N"),
];

/// Takes in the keys that were pressed; arrows turn the pages.
pub fn take(ui: &Ui, scene: &Scene, music: &mut Music, studio: &mut dyn Studio) {
    // A widget that was reached with the tabulator has the first word.
    if ui.ctx().memory(|memory| memory.focused().is_some()) {
        return;
    }
    let pressed = |key| ui.ctx().input(|input| input.key_pressed(key));
    for (wish, key, _) in KEYS {
        if pressed(key) && may(wish, scene) {
            studio.wish(wish);
        }
    }
    if pressed(Key::Space) && may(Wish::Next, scene) {
        studio.wish(Wish::Next);
    }
    for (key, by) in [(Key::ArrowLeft, -1), (Key::ArrowRight, 1)] {
        if pressed(key) {
            music.turn(by);
        }
    }
}
