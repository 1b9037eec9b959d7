//! The computer's keyboard as a piano: the middle row is white, the one above black,
//! as most programs lay it; A is C.

use egui::{Key, Ui};
use sinistra_core::pitch::KeyNumber;

use super::scene::Studio;

/// Keys from C upward.
const KEYS: [Key; 16] = [
    Key::A,
    Key::W,
    Key::S,
    Key::E,
    Key::D,
    Key::F,
    Key::T,
    Key::G,
    Key::Y,
    Key::H,
    Key::U,
    Key::J,
    Key::K,
    Key::O,
    Key::L,
    Key::P,
];
/// The left hand's octave at first, and how far it may be moved.
const FIRST: i32 = 36;
const OCTAVES: std::ops::RangeInclusive<i32> = 24..=84;

/// Whether letters play, and where.
pub struct ComputerPiano {
    on: bool,
    lowest: i32,
    down: Vec<(Key, KeyNumber)>,
}

impl Default for ComputerPiano {
    fn default() -> Self {
        Self { on: false, lowest: FIRST, down: Vec::new() }
    }
}

impl ComputerPiano {
    /// Whether letters play, and are no buttons.
    pub fn is_on(&self) -> bool {
        self.on
    }

    /// A switch.
    pub fn ui(&mut self, ui: &mut Ui, studio: &mut dyn Studio) {
        let octave = self.lowest / 12 - 1;
        let text = match self.on {
            true => format!("Letters play from C{octave} (Z and X: octave)"),
            false => "Letters play".to_owned(),
        };
        let about = "The computer's keyboard as a piano: A is C, W is C sharp, S is D … \
            Every stroke is equally loud.";
        if ui.checkbox(&mut self.on, text).on_hover_text(about).changed() && !self.on {
            self.let_go(studio);
        }
    }

    /// Takes in what is pressed and let go.
    pub fn take(&mut self, ui: &Ui, studio: &mut dyn Studio) {
        if !self.on {
            return;
        }
        let (pressed, up): (Vec<Key>, bool) = ui.ctx().input(|input| {
            let ours = |event: &egui::Event| match event {
                egui::Event::Key { key, pressed: true, repeat: false, modifiers, .. }
                    if !modifiers.command =>
                {
                    Some(*key)
                }
                _ => None,
            };
            (input.events.iter().filter_map(ours).collect(), !input.focused)
        });
        for key in pressed {
            let octave = i32::from(key == Key::X) - i32::from(key == Key::Z);
            let moved = self.lowest + 12 * octave;
            if octave != 0 && OCTAVES.contains(&moved) {
                self.lowest = moved;
            }
            let Some(above) = KEYS.iter().position(|other| *other == key) else { continue };
            let number = KeyNumber::clamped(self.lowest + above as i32);
            if !self.down.iter().any(|(other, _)| *other == key) {
                self.down.push((key, number));
                studio.play_key(number, true);
            }
        }
        if up {
            return self.let_go(studio);
        }
        let is_down = |key: Key| ui.ctx().input(|input| input.key_down(key));
        let (stay, gone): (Vec<_>, Vec<_>) =
            self.down.drain(..).partition(|(key, _)| is_down(*key));
        self.down = stay;
        gone.into_iter().for_each(|(_, number)| studio.play_key(number, false));
    }

    fn let_go(&mut self, studio: &mut dyn Studio) {
        self.down.drain(..).for_each(|(_, number)| studio.play_key(number, false));
    }
}
