//! What is read from two metres: the chord now, the next one, the count. Their
//! letters are never lower than a twelfth of the window.

use egui::{Align2, Color32, Galley, Painter, Pos2, Rect, Role, Sense, Ui, WidgetInfo, pos2, vec2};
use std::sync::Arc;

use sinistra_core::chord::Symbol;
use sinistra_core::engine::Snapshot;
use sinistra_core::foresee::Forecast;
use sinistra_score::wording as words;

use crate::look::{Palette, chord_font, text_font};

/// The least height of the letters beside the window's.
pub const LEAST: f32 = 1.0 / 12.0;

/// Draws all three into the room that is left. `window` is the window's height.
pub fn ui(ui: &mut Ui, snapshot: &Snapshot, window: f32) {
    let palette = Palette::of(ui);
    let (response, painter) = ui.allocate_painter(ui.available_size(), Sense::hover());
    let least = window * LEAST;
    let room = response.rect;
    // A font's letters are some seven tenths of its size high (DejaVu: 0.73).
    let count = (least / 0.73).max(0.2 * room.height());
    let (top, bottom) = room.split_top_bottom_at_y(room.bottom() - 1.3 * count);
    let next = snapshot.next.filter(|_| snapshot.playing);
    let (left, right) = top.split_left_right_at_fraction(0.56);
    let sight = Sight { painter: &painter, palette, least: least / 0.73 };
    let key = snapshot.key;
    let now = snapshot.chord.map(|heard| Symbol::of(heard.chord, key).to_string());
    let coming = next.map(|next| Symbol::of(next.chord, key).to_string());
    sight.chord("now", now.as_deref(), left, 0.78, palette.ink);
    sight.chord("next", coming.as_deref(), right, 0.55, palette.faint);
    if let Some(next) = next {
        let or = words::or(next.other, key);
        let sure = words::certainty(next.certainty);
        let text = format!("{} · {sure}{or}", until(snapshot, &next));
        let at = pos2(right.left() + 6.0, right.bottom() - 4.0);
        let size = (0.09 * top.height()).clamp(11.0, 40.0);
        painter.text(at, Align2::LEFT_BOTTOM, text, text_font(size), palette.faint);
    }
    sight.count(snapshot, bottom, count);
    let said = said(snapshot, now.as_deref(), coming.as_deref());
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, &said));
}

/// The same for those who listen to the window.
fn said(snapshot: &Snapshot, now: Option<&str>, next: Option<&str>) -> String {
    let beat = felt_beat(snapshot).map_or_else(|| "the beat rests".into(), |b| format!("beat {b}"));
    format!("Now {}, next {}, {beat}", now.unwrap_or("no chord"), next.unwrap_or("not foreseen"))
}

/// `in 2`, in felt beats.
fn until(snapshot: &Snapshot, next: &Forecast) -> String {
    let left = (next.at - snapshot.at).0.max(0);
    let pulse = snapshot.place.metre.pulse().0;
    match (left + pulse - 1) / pulse {
        0 => "now".into(),
        1 => "in 1 beat".into(),
        beats => format!("in {beats} beats"),
    }
}

/// The beat of the bar, from 1, while beats go by.
fn felt_beat(snapshot: &Snapshot) -> Option<i64> {
    snapshot.playing.then(|| snapshot.place.felt_beat(snapshot.at))
}

struct Sight<'a> {
    painter: &'a Painter,
    palette: Palette,
    /// The least size of a letter.
    least: f32,
}

impl Sight<'_> {
    /// A chord as large as its room allows.
    fn chord(&self, what: &str, symbol: Option<&str>, room: Rect, part: f32, ink: Color32) {
        let word = (0.05 * room.height()).clamp(11.0, 22.0);
        self.painter.text(
            room.left_top() + vec2(6.0, 0.0),
            Align2::LEFT_TOP,
            what,
            text_font(word),
            self.palette.faint,
        );
        let Some(symbol) = symbol else {
            let size = self.least.max(0.3 * room.height());
            self.painter.text(
                room.left_center() + vec2(6.0, 0.0),
                Align2::LEFT_CENTER,
                "–",
                chord_font(size),
                self.palette.faint,
            );
            return;
        };
        let laid = |size| self.laid(symbol, size, ink);
        let largest = (part * room.height()).max(self.least);
        let wide = laid(largest).size().x;
        let fits = largest * ((room.width() - 12.0) / wide.max(1.0)).min(1.0);
        let galley = laid(fits.max(self.least));
        let at = pos2(room.left() + 6.0, room.center().y - galley.size().y / 2.0);
        self.painter.galley(at, galley, ink);
    }

    fn laid(&self, symbol: &str, size: f32, ink: Color32) -> Arc<Galley> {
        self.painter.layout_no_wrap(symbol.to_owned(), chord_font(size), ink)
    }

    /// The felt beats of the bar; the one that we are in is lit.
    fn count(&self, snapshot: &Snapshot, room: Rect, size: f32) {
        let metre = snapshot.place.metre;
        let beats = metre.felt_beats();
        let width = room.width() / beats as f32;
        let now = felt_beat(snapshot);
        for beat in 1..=beats {
            let left: Pos2 = room.left_top() + vec2((beat - 1) as f32 * width, 0.0);
            let cell = Rect::from_min_size(left, vec2(width, room.height())).shrink(3.0);
            let lit = now == Some(beat);
            let (ground, ink) = match (lit, beat) {
                (true, 1) => (self.palette.left, self.palette.on_hand),
                (true, _) => (self.palette.mark, self.palette.ink),
                (false, _) => (self.palette.shade, self.palette.faint),
            };
            self.painter.rect_filled(cell, 4.0, ground);
            let font = chord_font(size);
            self.painter.text(cell.center(), Align2::CENTER_CENTER, beat, font, ink);
            if lit {
                // How far the beat is: the lower edge fills.
                let part = snapshot.place.offset(snapshot.at).rem_euclid(metre.pulse());
                let part = (part.beats() / metre.pulse().beats()) as f32;
                let mut edge = cell;
                edge.set_top(cell.bottom() - 4.0);
                edge.set_width(cell.width() * part);
                self.painter.rect_filled(edge, 0.0, ink);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use sinistra_core::time::Ticks;

    #[test]
    fn beats_are_counted_as_they_are_felt() {
        let metre = sinistra_core::time::Metre::new(6, 8).expect("a metre");
        let mut snapshot = Snapshot { playing: true, at: Ticks(1500), ..Snapshot::default() };
        assert_eq!(felt_beat(&snapshot), Some(2)); // quarters
        snapshot.place.metre = metre;
        assert_eq!(felt_beat(&snapshot), Some(2)); // dotted quarters
        snapshot.at = Ticks(1439);
        assert_eq!(felt_beat(&snapshot), Some(1));
        snapshot.playing = false;
        assert_eq!(felt_beat(&snapshot), None);
    }
}
