//! The count of the bar, with the slots of the pattern and what goes into each.

use egui::{Align2, Painter, Rect, Role, Sense, Stroke, StrokeKind, Ui, WidgetInfo, pos2, vec2};
use sinistra_core::engine::{SlotView, Snapshot};
use sinistra_core::key::Key;
use sinistra_core::time::{Place, Ticks};

use super::words;
use crate::look::{Palette, text_font};

const HEIGHT: f32 = 92.0;

/// Remembers what went into the slots of this bar that are past: a snapshot
/// tells only of those to come.
#[derive(Default)]
pub struct Count {
    bar: Ticks,
    slots: Vec<SlotView>,
}

impl Count {
    /// Takes in a snapshot; what time has passed stays as it was last foreseen.
    fn remember(&mut self, snapshot: &Snapshot, bar: Ticks) {
        if self.bar != bar || !snapshot.playing {
            (self.bar, self.slots) = (bar, vec![]);
        }
        self.slots.retain(|slot| slot.at <= snapshot.at);
        for slot in &snapshot.slots {
            if slot.at > snapshot.at || self.slots.iter().all(|known| known.at != slot.at) {
                self.slots.push(*slot);
            }
        }
        self.slots.sort_by_key(|slot| slot.at);
    }

    /// The bar that time is in.
    pub fn ui(&mut self, ui: &mut Ui, snapshot: &Snapshot) {
        let place = snapshot.place.of(snapshot.at);
        self.remember(snapshot, place.bar);
        ui_of_bar(ui, snapshot, place, &self.slots);
    }
}

fn ui_of_bar(ui: &mut Ui, snapshot: &Snapshot, place: Place, slots: &[SlotView]) {
    let palette = Palette::of(ui);
    let (response, painter) =
        ui.allocate_painter(vec2(ui.available_width(), HEIGHT), Sense::hover());
    let bar = Bar { place, rect: response.rect, palette, key: snapshot.key };
    bar.rules(&painter, snapshot);
    if snapshot.playing {
        bar.hand(&painter, snapshot.at); // behind the letters
    }
    slots.iter().for_each(|slot| bar.slot(&painter, slot, snapshot.at));
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, said(slots, place)));
    response.on_hover_text(
        "R root, 3 third, 5 fifth, 6 sixth, 7 seventh, 8 octave, 9 ninth, B bass, \
         P passing note. Filled: played; outlined: to come.",
    );
}

/// The same for those who listen to the window.
fn said(slots: &[SlotView], place: Place) -> String {
    let slots: Vec<_> = slots
        .iter()
        .map(|slot| {
            let count = words::count(place.metre, place.offset(slot.at));
            format!("{count}: {}", slot.role.map_or("rest", |role| role.name()))
        })
        .collect();
    format!("Bar {}, {}", place.number + 1, slots.join(", "))
}

struct Bar {
    place: Place,
    rect: Rect,
    palette: Palette,
    key: Key,
}

impl Bar {
    fn x(&self, at: Ticks) -> f32 {
        let part = self.place.offset(at).0 as f32 / self.place.metre.bar().0 as f32;
        self.rect.left() + 64.0 + part.clamp(0.0, 1.0) * (self.rect.width() - 84.0)
    }

    /// The line where the strokes stand.
    fn y(&self) -> f32 {
        self.rect.top() + 46.0
    }

    /// Bar lines, the numbers and the halves between them.
    fn rules(&self, painter: &Painter, snapshot: &Snapshot) {
        let palette = &self.palette;
        let metre = self.place.metre;
        let (start, end) = (self.x(self.place.bar), self.x(self.place.bar + metre.bar()));
        let number = format!("bar\n{}", self.place.number + 1);
        let left = pos2(self.rect.left() + 2.0, self.y());
        painter.text(left, Align2::LEFT_CENTER, number, text_font(12.0), palette.faint);
        painter.hline(start..=end, self.y() + 18.0, Stroke::new(1.0, palette.line));
        for x in [start - 10.0, end] {
            painter.vline(x, self.y() - 20.0..=self.y() + 18.0, Stroke::new(2.0, palette.line));
        }
        for beat in 0..metre.beats() {
            let at = self.place.bar + Ticks(metre.unit_ticks().0 * i64::from(beat));
            let felt = self.place.offset(at).0 % metre.pulse().0 == 0;
            let (size, colour) = if felt { (17.0, palette.ink) } else { (13.0, palette.faint) };
            let top = pos2(self.x(at), self.rect.top() + 9.0);
            painter.text(top, Align2::CENTER_CENTER, beat + 1, text_font(size), colour);
            if !metre.is_compound() && metre.unit() <= 4 {
                let half =
                    pos2(self.x(at + Ticks(metre.unit_ticks().0 / 2)), self.rect.top() + 10.0);
                painter.text(half, Align2::CENTER_CENTER, "&", text_font(12.0), palette.faint);
            }
        }
        if snapshot.slots.is_empty() {
            let text =
                if snapshot.playing { "the left hand rests" } else { "the clock stands still" };
            let middle = pos2((start + end) / 2.0, self.y());
            painter.text(middle, Align2::CENTER_CENTER, text, text_font(13.0), palette.faint);
        }
    }

    /// A square with the letter of its role: filled once it was played.
    fn slot(&self, painter: &Painter, slot: &SlotView, now: Ticks) {
        let palette = &self.palette;
        let centre = pos2(self.x(slot.at), self.y());
        let Some(role) = slot.role else {
            painter.hline(
                centre.x - 5.0..=centre.x + 5.0,
                centre.y,
                Stroke::new(2.0, palette.line),
            );
            return;
        };
        let square = Rect::from_center_size(centre, vec2(24.0, 24.0));
        let played = slot.key.is_some() && slot.at <= now;
        let missed = !played && slot.at <= now;
        let text = if played {
            painter.rect_filled(square, 4.0, palette.left);
            palette.on_hand
        } else {
            let stroke = Stroke::new(1.8, if missed { palette.line } else { palette.left });
            painter.rect_stroke(square, 4.0, stroke, StrokeKind::Inside);
            if missed { palette.faint } else { palette.ink }
        };
        painter.text(centre, Align2::CENTER_CENTER, words::letter(role), text_font(15.0), text);
        if let Some(key) = slot.key {
            let below = pos2(centre.x, self.y() + 28.0);
            let name = words::note(key, self.key);
            painter.text(below, Align2::CENTER_CENTER, name, text_font(12.0), palette.ink);
        }
    }

    /// Where time is.
    fn hand(&self, painter: &Painter, at: Ticks) {
        let x = self.x(at);
        let (top, bottom) = (self.y() - 22.0, self.y() + 18.0);
        painter.vline(x, top..=bottom, Stroke::new(2.0, self.palette.ink));
        let tip = pos2(x, bottom);
        painter.add(egui::Shape::convex_polygon(
            vec![tip, tip + vec2(-5.0, 8.0), tip + vec2(5.0, 8.0)],
            self.palette.ink,
            Stroke::NONE,
        ));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use sinistra_core::play::Role as Part;

    #[test]
    fn what_was_played_stays_until_the_bar_is_over() {
        let slot = |at, role| SlotView { at: Ticks(at), role, key: None };
        let mut snapshot = Snapshot { playing: true, ..Snapshot::default() };
        snapshot.slots.extend([slot(0, Some(Part::Root)), slot(960, Some(Part::Fifth))]);
        let mut count = Count::default();
        count.remember(&snapshot, Ticks(0));
        snapshot.at = Ticks(500);
        snapshot.slots[0].role = None; // past: no longer foreseen
        snapshot.slots[1].role = Some(Part::Third); // another chord meanwhile
        count.remember(&snapshot, Ticks(0));
        assert_eq!(count.slots, [slot(0, Some(Part::Root)), slot(960, Some(Part::Third))]);
        count.remember(&snapshot, Ticks(3840));
        assert_eq!(count.slots.len(), 2, "a new bar knows only the snapshot");
    }
}
