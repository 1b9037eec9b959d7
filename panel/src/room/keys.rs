//! The computer's keyboard: every button has a key.

use egui::{Key, Ui};

use super::buttons::may;
use super::music::Music;
use super::scene::{RoomRequest, RoomScene, Studio};

/// Each wish and its key, in the order of the buttons.
pub const KEYS: [(RoomRequest, Key, &str); 10] = [
    (RoomRequest::Next, Key::Enter, "Enter"),
    (RoomRequest::Again, Key::A, "A"),
    (RoomRequest::Slower, Key::S, "S"),
    (RoomRequest::Faster, Key::F, "F"),
    (RoomRequest::Stop, Key::Escape, "Esc"),
    (RoomRequest::Hear, Key::H, "H"),
    (RoomRequest::Wait, Key::W, "W"),
    (RoomRequest::Together, Key::T, "T"),
    (RoomRequest::Alone, Key::L, "L"),
    (RoomRequest::NextLesson, Key::N, "N"),
];

/// Takes in the keys that were pressed; arrows turn the pages. Letters are no buttons
/// while they play.
pub fn take(ui: &Ui, scene: &RoomScene, music: &mut Music, letters: bool, studio: &mut dyn Studio) {
    // A widget that was reached with the tabulator has the first word.
    if ui.ctx().memory(|memory| memory.focused().is_some()) {
        return;
    }
    let pressed = |key| ui.ctx().input(|input| input.key_pressed(key));
    for (wish, key, _) in KEYS {
        let button = letters || matches!(key, Key::Enter | Key::Escape);
        if button && pressed(key) && may(wish, scene) {
            studio.wish(wish);
        }
    }
    if pressed(Key::Space) && may(RoomRequest::Next, scene) {
        studio.wish(RoomRequest::Next);
    }
    for (key, by) in [(Key::ArrowLeft, -1), (Key::ArrowRight, 1)] {
        if pressed(key) {
            music.turn(by);
        }
    }
}
