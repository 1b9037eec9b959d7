//! The keyboard: the split, the right hand, the left hand with its roles.

use egui::{
    Align2, Painter, Pos2, Rect, Response, Role, Sense, Shape, Stroke, StrokeKind, Ui, WidgetInfo,
    pos2, vec2,
};
use sinistra_core::engine::{Settings, Snapshot};
use sinistra_core::key::Key;
use sinistra_core::pitch::KeyNumber;

use super::words;
use crate::look::{Palette, text_font};

/// A piano's lowest and highest keys, A0 and C8.
const KEYS: std::ops::RangeInclusive<u8> = 21..=108;
/// The usual height, points.
pub const HEIGHT: f32 = 104.0;

/// White keys below `key` within its octave, and whether it is black.
const fn within_octave(key: u8) -> (u8, bool) {
    [
        (0, false),
        (1, true),
        (1, false),
        (2, true),
        (2, false),
        (3, false),
        (4, true),
        (4, false),
        (5, true),
        (5, false),
        (6, true),
        (6, false),
    ][key as usize % 12]
}

/// All 88 keys.
pub fn ui(ui: &mut Ui, snapshot: &Snapshot, settings: &Settings, height: f32) -> Response {
    let palette = Palette::of(ui);
    let (response, painter) =
        ui.allocate_painter(vec2(ui.available_width(), height), Sense::hover());
    let keyboard = KeyboardPicture::new(response.rect, palette);
    keyboard.keys(&painter, |number| {
        let left = snapshot.left.iter().find(|(key, _)| key.number() == number);
        let held = (snapshot.right >> number & 1 == 1, snapshot.own_left >> number & 1 == 1);
        (left.map(|(_, role)| words::letter(*role)), held)
    });
    keyboard.range(&painter, settings);
    keyboard.split(&painter, settings.split, snapshot);
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, said(snapshot)));
    response
}

/// The keys that are asked for, with their roles, and those that are down.
pub fn lit(
    ui: &mut Ui,
    key: Key,
    asked: &[(KeyNumber, Option<sinistra_core::play::Role>)],
    down: u128,
    height: f32,
) -> Response {
    let palette = Palette::of(ui);
    let (response, painter) =
        ui.allocate_painter(vec2(ui.available_width(), height), Sense::hover());
    let keyboard = KeyboardPicture::new(response.rect, palette);
    keyboard.keys(&painter, |number| {
        let lit = asked.iter().find(|(key, _)| key.number() == number);
        (lit.map(|(_, role)| role.map_or("", words::letter)), (down >> number & 1 == 1, false))
    });
    let names: Vec<String> = asked.iter().map(|(number, _)| words::note(*number, key)).collect();
    let said = format!("Keyboard. Asked for: {}", names.join(", "));
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, &said));
    response
}

/// What the signs mean.
pub const HELP: &str = "Round: your right hand. Square with a letter: the left hand, by its role. \
    Ring: your own left hand. The line below marks the left hand's range.";

/// The same for those who listen to the window.
fn said(snapshot: &Snapshot) -> String {
    let name = |number: u8| words::note(KeyNumber::clamped(number.into()), snapshot.key);
    let right: Vec<_> = (0..128u8).filter(|n| snapshot.right >> n & 1 == 1).map(name).collect();
    let left: Vec<_> = snapshot
        .left
        .iter()
        .map(|(key, role)| format!("{} {}", words::note(*key, snapshot.key), role.name()))
        .collect();
    let list = |keys: Vec<String>| if keys.is_empty() { "nothing".into() } else { keys.join(", ") };
    format!("Keyboard. Right hand: {}. Left hand: {}", list(right), list(left))
}

struct KeyboardPicture {
    rect: Rect,
    white: f32,
    palette: Palette,
}

impl KeyboardPicture {
    fn new(rect: Rect, palette: Palette) -> Self {
        let rect = Rect::from_min_max(rect.min + vec2(0.0, 16.0), rect.max - vec2(0.0, 6.0));
        Self { rect, white: rect.width() / 52.0, palette }
    }

    /// The area of a key.
    fn area(&self, number: u8) -> Rect {
        let whites = |key: u8| i32::from(key / 12) * 7 + i32::from(within_octave(key).0);
        let x = self.rect.left() + (whites(number) - whites(21)) as f32 * self.white;
        if within_octave(number).1 {
            let width = self.white * 0.62;
            let height = self.rect.height() * 0.62;
            Rect::from_min_size(pos2(x - width / 2.0, self.rect.top()), vec2(width, height))
        } else {
            Rect::from_min_size(pos2(x, self.rect.top()), vec2(self.white, self.rect.height()))
        }
    }

    /// All keys, the black ones above: `of` says of each what [`Self::key`] draws.
    fn keys<'a>(&self, painter: &Painter, of: impl Fn(u8) -> (Option<&'a str>, (bool, bool))) {
        for black in [false, true] {
            for number in KEYS.filter(|number| within_octave(*number).1 == black) {
                let (letter, held) = of(number);
                self.key(painter, number, letter, held);
            }
        }
    }

    /// A key with the letter of the left hand's role, if it is that hand's, and whether
    /// the right hand or the player's own left holds it.
    fn key(
        &self,
        painter: &Painter,
        number: u8,
        left: Option<&str>,
        (right, own_left): (bool, bool),
    ) {
        let palette = &self.palette;
        let (area, black) = (self.area(number), within_octave(number).1);
        let fill = match (left.is_some(), right, black) {
            (true, _, _) => palette.left,
            (_, true, _) => palette.right,
            (_, _, true) => {
                palette.ink.lerp_to_gamma(palette.paper, if self.night() { 0.75 } else { 0.0 })
            }
            _ if self.night() => palette.ink.lerp_to_gamma(palette.paper, 0.12),
            _ => palette.sheet,
        };
        painter.rect(area, 1.5, fill, Stroke::new(1.0, palette.line), StrokeKind::Inside);
        let size = (self.white * 0.32).clamp(2.5, 14.0);
        let rise = if black { 4.0 } else { 6.0 } + size;
        let spot = pos2(area.center().x, area.bottom() - rise);
        if let Some(letter) = left {
            self.square(painter, spot, size * 1.5, letter);
        } else if right {
            painter.circle_filled(spot, size, palette.on_hand);
        } else if own_left {
            let colour = if black && !self.night() { palette.sheet } else { palette.right };
            painter.circle_stroke(spot, size, Stroke::new(2.0, colour));
        } else if number.is_multiple_of(12) && self.white > 15.0 {
            let name = format!("C{}", KeyNumber::clamped(number.into()).octave());
            let colour = if self.night() { palette.paper } else { palette.faint };
            painter.text(spot, Align2::CENTER_CENTER, name, text_font(11.0), colour);
        }
    }

    fn night(&self) -> bool {
        self.palette.paper == Palette::NIGHT.paper
    }

    fn square(&self, painter: &Painter, centre: Pos2, size: f32, letter: &str) {
        let font = text_font((size * 2.0).clamp(11.0, 28.0));
        painter.text(centre, Align2::CENTER_CENTER, letter, font, self.palette.on_hand);
    }

    /// A line below the keys that the left hand may play.
    fn range(&self, painter: &Painter, settings: &Settings) {
        let within = |key: KeyNumber| key.number().clamp(*KEYS.start(), *KEYS.end());
        let from = self.area(within(settings.lowest)).left();
        let to = self.area(within(settings.highest)).right();
        let y = self.rect.bottom() + 3.0;
        painter.hline(from..=to, y, Stroke::new(3.0, self.palette.left));
    }

    /// A flag at the lowest key of the right hand.
    fn split(&self, painter: &Painter, split: KeyNumber, snapshot: &Snapshot) {
        let number = split.number().clamp(*KEYS.start(), *KEYS.end());
        let area = self.area(number);
        let x = area.left();
        let stroke = Stroke::new(2.0, self.palette.right);
        painter.vline(x, self.rect.top() - 14.0..=self.rect.bottom(), stroke);
        let top = pos2(x, self.rect.top() - 14.0);
        painter.add(Shape::convex_polygon(
            vec![top, top + vec2(9.0, 5.0), top + vec2(0.0, 10.0)],
            self.palette.right,
            Stroke::NONE,
        ));
        let text = format!("split {}", words::note(split, snapshot.key));
        let at = top + vec2(13.0, 5.0);
        painter.text(at, Align2::LEFT_CENTER, text, text_font(11.0), self.palette.faint);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn eighty_eight_keys_of_which_fifty_two_are_white() {
        let white = KEYS.filter(|number| !within_octave(*number).1).count();
        assert_eq!((KEYS.count(), white), (88, 52));
        let rect = Rect::from_min_size(Pos2::ZERO, vec2(520.0, 100.0));
        let keyboard = KeyboardPicture::new(rect, Palette::DAY);
        assert!((keyboard.area(21).left() - rect.left()).abs() < 1e-3);
        assert!((keyboard.area(108).right() - rect.right()).abs() < 1e-3);
        assert!(keyboard.area(61).center().x - keyboard.area(62).left() < 1e-3);
    }
}
