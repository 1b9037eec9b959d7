//! The computer's keyboard: every button has a key, those of the terminal.

use egui::{Key, Ui};

use super::StagePage;
use super::scene::{Leads, Left, StageScene, StageWish};

/// A wish by key; `None` where it means nothing now.
type Means = fn(&StageScene) -> Option<StageWish>;

/// Every key, with what it means.
const KEYS: [(Key, Means); 18] = [
    (Key::Space, |_| Some(StageWish::Tap)),
    (Key::S, |_| Some(StageWish::StartOrStop)),
    (Key::Enter, |_| Some(StageWish::StartOrStop)),
    (Key::P, |_| Some(StageWish::Panic)),
    (Key::Escape, |_| Some(StageWish::Panic)),
    (Key::L, |scene| Some(StageWish::Left(after(&Left::ALL, scene.left)))),
    (Key::F, |scene| Some(StageWish::Lead(after(&Leads::ALL, scene.leads)))),
    (Key::O, |_| Some(StageWish::OctaveDrop)),
    (Key::H, |_| Some(StageWish::Hold)),
    (Key::C, |_| Some(StageWish::Clicks)),
    (Key::N, |_| Some(StageWish::Next)),
    (Key::ArrowRight, |_| Some(StageWish::Next)),
    (Key::B, |_| Some(StageWish::Previous)),
    (Key::ArrowLeft, |_| Some(StageWish::Previous)),
    (Key::ArrowUp, |scene| Some(StageWish::Tempo(scene.tempo.round() + 1.0))),
    (Key::ArrowDown, |scene| Some(StageWish::Tempo(scene.tempo.round() - 1.0))),
    (Key::W, |scene| scene.full_screen.map(|_| StageWish::FullScreen)),
    (Key::F11, |scene| scene.full_screen.map(|_| StageWish::FullScreen)),
];

/// The next of a list, around its end.
pub fn after<T: Copy + PartialEq>(all: &[T; 3], now: T) -> T {
    let at = all.iter().position(|one| *one == now).unwrap_or(0);
    all[(at + 1) % all.len()]
}

/// Takes in the keys that were pressed. A widget that was reached with the
/// tabulator has the first word; a text that is written has all of them.
pub fn take(ui: &Ui, scene: &StageScene, page: &mut StagePage, ask: &mut Vec<StageWish>) {
    let context = ui.ctx();
    if context.egui_wants_keyboard_input() {
        return;
    }
    let focused = context.memory(|memory| memory.focused().is_some());
    let plain = context.input(|input| !input.modifiers.command && !input.modifiers.alt);
    let pressed = |key| plain && context.input(|input| input.key_pressed(key));
    for (key, means) in KEYS {
        let moves_focus = matches!(key, Key::Space | Key::Enter) || is_arrow(key);
        if pressed(key)
            && !(focused && moves_focus)
            && let Some(wish) = means(scene)
        {
            ask.push(wish);
        }
    }
    for (key, its) in [Key::Num1, Key::Num2, Key::Num3, Key::Num4].into_iter().zip(StagePage::ALL) {
        if pressed(key) {
            *page = its;
        }
    }
}

const fn is_arrow(key: Key) -> bool {
    matches!(key, Key::ArrowUp | Key::ArrowDown | Key::ArrowLeft | Key::ArrowRight)
}
