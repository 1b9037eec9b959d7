//! The count of the bar, with the slots of the pattern and what goes into each.

use egui::{
    Align2, Painter, Rect, Response, Role, Sense, Stroke, StrokeKind, Ui, WidgetInfo, pos2, vec2,
};
use sinistra_core::engine::{SlotView, Snapshot};
use sinistra_core::foresee::Forecast;
use sinistra_core::key::Key;
use sinistra_core::time::{Place, Ticks};

use super::words;
use crate::look::{Palette, text_font};

/// The usual height, points.
pub const HEIGHT: f32 = 92.0;

/// Room behind the bar line, at the usual height.
const BEHIND: f32 = 76.0;

/// The bar that time is in: what was played as it was played, then what will be,
/// and beat 1 of the bar to come.
pub fn ui(ui: &mut Ui, snapshot: &Snapshot, height: f32) -> Response {
    let place = snapshot.place.of(snapshot.at);
    let palette = Palette::of(ui);
    let (response, painter) =
        ui.allocate_painter(vec2(ui.available_width(), height), Sense::hover());
    let size = height / HEIGHT;
    let bar = CountedBar { place, rect: response.rect, palette, key: snapshot.key, size };
    bar.rules(&painter, snapshot);
    if snapshot.playing {
        bar.hand(&painter, snapshot.at); // behind the letters
    }
    snapshot.slots.iter().for_each(|slot| bar.slot(&painter, slot, bar.x(slot.at)));
    bar.coming(&painter, snapshot);
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, said(snapshot, place)));
    response
}

/// What the signs mean.
pub const HELP: &str = "R root, 3 third, 5 fifth, 6 sixth, 7 seventh, 8 octave, 9 ninth, B bass, \
    P passing note. Filled: played; outlined: to come. Behind the bar line: beat 1 of the next \
    bar, with how sure its chord is.";

/// The first slot of the bar to come, if it is on its line.
fn first_to_come(snapshot: &Snapshot, place: Place) -> Option<&SlotView> {
    let line = place.bar + place.metre.bar();
    snapshot.coming.first().filter(|slot| slot.at == line && slot.role.is_some())
}

/// The chord that is foreseen for the line of the bar to come, with its certainty.
fn chord_to_come(snapshot: &Snapshot, place: Place) -> Option<Forecast> {
    let line = place.bar + place.metre.bar();
    let near = |next: &Forecast| (next.at - line).0.abs() <= Ticks::PER_BEAT / 8;
    snapshot.next.filter(near)
}

/// The same for those who listen to the window.
fn said(snapshot: &Snapshot, place: Place) -> String {
    let part = |slot: &SlotView| {
        let there = place.of(slot.at);
        let count = words::count(there.metre, there.offset(slot.at));
        format!("{count}: {}", slot.role.map_or("rest", |role| role.name()))
    };
    let slots: Vec<_> = snapshot.slots.iter().map(part).collect();
    let mut text = format!("Bar {}, {}", place.number + 1, slots.join(", "));
    if let Some(first) = first_to_come(snapshot, place) {
        text += &format!("; next bar, {}", part(first));
    }
    text
}

struct CountedBar {
    place: Place,
    rect: Rect,
    palette: Palette,
    key: Key,
    /// 1 at the usual height.
    size: f32,
}

impl CountedBar {
    fn x(&self, at: Ticks) -> f32 {
        let part = self.place.offset(at).0 as f32 / self.place.metre.bar().0 as f32;
        let (before, after) = (64.0 * self.size, BEHIND * self.size);
        let width = self.rect.width() - before - after;
        self.rect.left() + before + part.clamp(0.0, 1.0) * width
    }

    /// The line where the strokes stand.
    fn y(&self) -> f32 {
        self.rect.top() + 46.0 * self.size
    }

    fn font(&self, size: f32) -> egui::FontId {
        text_font((size * self.size).max(11.0))
    }

    /// Bar lines, the numbers and the halves between them.
    fn rules(&self, painter: &Painter, snapshot: &Snapshot) {
        let palette = &self.palette;
        let metre = self.place.metre;
        let (start, end) = (self.x(self.place.bar), self.x(self.place.bar + metre.bar()));
        let size = self.size;
        let number = format!("bar\n{}", self.place.number + 1);
        let left = pos2(self.rect.left() + 2.0, self.y());
        painter.text(left, Align2::LEFT_CENTER, number, self.font(12.0), palette.faint);
        let (top, bottom) = (self.y() - 20.0 * size, self.y() + 18.0 * size);
        painter.hline(start..=end, bottom, Stroke::new(1.0, palette.line));
        for x in [start - 10.0 * size, end] {
            painter.vline(x, top..=bottom, Stroke::new(2.0, palette.line));
        }
        for beat in 0..metre.beats() {
            let at = self.place.bar + Ticks(metre.unit_ticks().0 * i64::from(beat));
            let felt = self.place.offset(at).0 % metre.pulse().0 == 0;
            let (letters, colour) = if felt { (17.0, palette.ink) } else { (13.0, palette.faint) };
            let top = pos2(self.x(at), self.rect.top() + 9.0 * size);
            painter.text(top, Align2::CENTER_CENTER, beat + 1, self.font(letters), colour);
            if !metre.is_compound() && metre.unit() <= 4 {
                let x = self.x(at + Ticks(metre.unit_ticks().0 / 2));
                let half = pos2(x, self.rect.top() + 10.0 * size);
                painter.text(half, Align2::CENTER_CENTER, "&", self.font(12.0), palette.faint);
            }
        }
        if snapshot.slots.is_empty() {
            let text =
                if snapshot.playing { "the left hand rests" } else { "the clock stands still" };
            let middle = pos2((start + end) / 2.0, self.y());
            painter.text(middle, Align2::CENTER_CENTER, text, self.font(13.0), palette.faint);
        }
    }

    /// A square with the letter of its role: filled once it was played.
    fn slot(&self, painter: &Painter, slot: &SlotView, x: f32) {
        let palette = &self.palette;
        let centre = pos2(x, self.y());
        let Some(role) = slot.role else {
            let half = 5.0 * self.size;
            let line = Stroke::new(2.0, palette.line);
            painter.hline(centre.x - half..=centre.x + half, centre.y, line);
            return;
        };
        let square = Rect::from_center_size(centre, egui::Vec2::splat(24.0 * self.size));
        let text = if slot.played {
            painter.rect_filled(square, 4.0, palette.left);
            palette.on_hand
        } else {
            painter.rect_filled(square, 4.0, palette.paper);
            let stroke = Stroke::new(1.8, palette.left);
            painter.rect_stroke(square, 4.0, stroke, StrokeKind::Inside);
            palette.ink
        };
        painter.text(centre, Align2::CENTER_CENTER, words::letter(role), self.font(15.0), text);
        if let Some(key) = slot.key {
            let below = pos2(centre.x, self.y() + 29.0 * self.size);
            let name = words::note(key, self.key);
            painter.text(below, Align2::CENTER_CENTER, name, self.font(12.0), palette.ink);
        }
    }

    /// Beat 1 of the bar to come, behind the bar line.
    fn coming(&self, painter: &Painter, snapshot: &Snapshot) {
        let centre = self.rect.right() - 0.5 * (BEHIND - 8.0) * self.size;
        let palette = &self.palette;
        if snapshot.playing {
            let top = pos2(centre, self.rect.top() + 9.0 * self.size);
            painter.text(top, Align2::CENTER_CENTER, "1", self.font(17.0), palette.faint);
        }
        if let Some(slot) = first_to_come(snapshot, self.place) {
            self.slot(painter, slot, centre);
        }
        if let Some(next) = chord_to_come(snapshot, self.place).filter(|_| snapshot.playing) {
            // How sure it is, as a line that fills.
            let width = (BEHIND - 24.0) * self.size;
            let (left, y) = (centre - width / 2.0, self.y() + 18.0 * self.size);
            painter.hline(left..=left + width, y, Stroke::new(1.0, palette.line));
            let sure = left + width * next.certainty.clamp(0.0, 1.0);
            painter.hline(left..=sure, y, Stroke::new(3.0, palette.left));
        }
    }

    /// Where time is.
    fn hand(&self, painter: &Painter, at: Ticks) {
        let x = self.x(at);
        let (top, bottom) = (self.y() - 22.0 * self.size, self.y() + 18.0 * self.size);
        painter.vline(x, top..=bottom, Stroke::new(2.0, self.palette.ink));
        let (tip, half) = (pos2(x, bottom), 5.0 * self.size);
        painter.add(egui::Shape::convex_polygon(
            vec![tip, tip + vec2(-half, 1.6 * half), tip + vec2(half, 1.6 * half)],
            self.palette.ink,
            Stroke::NONE,
        ));
    }
}
