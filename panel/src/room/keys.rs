//! The computer's keyboard: every button has a key.

use egui::{Key, Ui};
use sinistra_score::practice::Answer;

use super::music::Music;
use super::scene::{RoomScene, Studio};

/// Each wish and its key, in the order of the buttons.
pub const KEYS: [(Answer, Key, &str); 10] = [
    (Answer::On, Key::Enter, "Enter"),
    (Answer::Again, Key::A, "A"),
    (Answer::Slower, Key::S, "S"),
    (Answer::Faster, Key::F, "F"),
    (Answer::Stop, Key::Escape, "Esc"),
    (Answer::Hear, Key::H, "H"),
    (Answer::Wait, Key::W, "W"),
    (Answer::Together, Key::T, "T"),
    (Answer::Alone, Key::L, "L"),
    (Answer::Next, Key::N, "N"),
];

/// What it is called to hear one's own round.
pub const HEAR_YOURSELF: &str = "Hear yourself";

/// A wish with a smaller button.
pub const REPLAY: (Answer, Key, &str) = (Answer::Replay, Key::Y, "Y");

/// Takes in the keys that were pressed; arrows turn the pages. Letters are no buttons
/// while they play.
pub fn take(ui: &Ui, scene: &RoomScene, music: &mut Music, letters: bool, studio: &mut dyn Studio) {
    // A widget that was reached with the tabulator has the first word.
    if ui.ctx().memory(|memory| memory.focused().is_some()) {
        return;
    }
    let pressed = |key| ui.ctx().input(|input| input.key_pressed(key));
    for (wish, key, _) in KEYS.into_iter().chain([REPLAY]) {
        let button = letters || matches!(key, Key::Enter | Key::Escape);
        if button && pressed(key) && scene.may(wish) {
            studio.wish(wish);
        }
    }
    if pressed(Key::Space) && scene.may(Answer::On) {
        studio.wish(Answer::On);
    }
    for (key, by) in [(Key::ArrowLeft, -1), (Key::ArrowRight, 1)] {
        if pressed(key) {
            music.turn(by);
        }
    }
}
