//! The left hand of this bar and the next on a staff: as it was played, then as it
//! will be if nothing changes.

use egui::{Rect, Response, Role, Sense, Ui, Vec2, WidgetInfo, pos2};
use sinistra_core::chord::Symbol;
use sinistra_core::engine::{SlotView, Snapshot};
use sinistra_core::play::swing;
use sinistra_core::time::{Place, Ticks};
use sinistra_score::sheet::engrave::{EngraveOptions, Engraver, Glyph, Mark, Shape, StaffSystem};
use sinistra_score::sheet::{Sheet, SheetBar, SheetChord, SheetNote, Staff};

use super::Easel;
use crate::look::Palette;

/// The least points in a staff space that are read at a desk.
const LEAST: f32 = 5.0;
/// Spaces that two bars like to have, in width and in height.
const ROOM: (f32, f32) = (44.0, 15.0);

const DRAWN: EngraveOptions = EngraveOptions {
    staves: &[Staff::Left],
    chords: true,
    counts: true,
    roles: true,
    fingers: false,
    reasons: false,
};

/// What the staff was written from.
#[derive(Clone, PartialEq)]
struct Basis {
    slots: Vec<SlotView>,
    chords: Vec<SheetChord>,
    place: Place,
    swing: f32,
    tempo: f64,
}

/// The two bars, written anew when there is something new to see.
#[derive(Default)]
pub struct ComingBars {
    /// When each chord was seen first, since the bar before.
    seen: Vec<SheetChord>,
    written: Option<(Basis, Engraver<'static>)>,
}

impl ComingBars {
    /// Whether there is room for them to be read.
    pub fn fit(size: Vec2) -> bool {
        size.x >= ROOM.0 * LEAST && size.y >= ROOM.1 * LEAST
    }

    /// Draws them into `rect`, as large as it allows. `swing` is where the "and" sounds
    /// in its beat.
    pub fn ui(&mut self, ui: &mut Ui, snapshot: &Snapshot, swing: f32, size: Vec2) -> Response {
        let (rect, response) = ui.allocate_exact_size(size, Sense::hover());
        let palette = Palette::of(ui);
        let painter = ui.painter_at(rect);
        painter.rect_filled(rect, 4.0, palette.sheet);
        if !snapshot.playing {
            (self.seen, self.written) = (Vec::new(), None);
            said(&response, "The staff: the clock stands still");
            return response;
        }
        let basis = self.basis(snapshot, swing);
        if self.written.as_ref().is_none_or(|written| written.0 != basis) {
            let engraver = Engraver::keeping(sheet(snapshot, &basis));
            self.written = Some((basis, engraver));
        }
        let Some((basis, engraver)) = &self.written else { return response };
        let natural = engraver.system(0..2, None, &DRAWN);
        let wish = (rect.height() / (natural.height() + 1.0)).min(rect.width() / natural.width);
        let space = Easel::fitting(wish.max(LEAST), painter.pixels_per_point());
        let wide = ((rect.width() - 4.0) / space).min(1.7 * natural.width);
        let system = engraver.system(0..2, Some(wide), &DRAWN);
        let left = rect.left() + 2.0 + 0.5 * (rect.width() - 4.0 - system.width * space).max(0.0);
        let spare = (rect.height() - system.height() * space).max(0.0);
        let origin = pos2(left, rect.top() + 0.5 * spare - system.top * space);
        let easel = Easel::new(painter, origin, space, palette);
        let now = basis.counted(snapshot.at);
        band(&easel, rect, system.x_of(now), &palette);
        easel.paint(&known(&system, basis.known_until()), 0.0);
        said(&response, &basis.said(engraver.sheet()));
        response
    }

    fn basis(&mut self, snapshot: &Snapshot, swing: f32) -> Basis {
        let place = snapshot.place.of(snapshot.at);
        self.see(snapshot, place);
        let end = place.bar + Ticks(2 * place.metre.bar().0);
        let mut chords = self.seen.clone();
        if let Some(next) = snapshot.next.filter(|next| (snapshot.at..end).contains(&next.at)) {
            chords.push(SheetChord {
                at: next.at,
                symbol: Some(Symbol::of(next.chord, snapshot.key)),
            });
        }
        chords.dedup_by_key(|chord| chord.symbol);
        let slots = snapshot.slots.iter().chain(&snapshot.coming).copied().collect();
        // A tempo that wavers writes nothing new.
        Basis { slots, chords, place, swing, tempo: snapshot.tempo.round() }
    }

    /// Remembers which chord has held since when in this bar.
    fn see(&mut self, snapshot: &Snapshot, place: Place) {
        let symbol = snapshot.chord.map(|now| Symbol::of(now.chord, snapshot.key));
        // A chord is seen a moment after its beat.
        let half = Ticks::PER_BEAT / 2;
        let grid = Ticks((snapshot.at.0 + half / 2).div_euclid(half) * half).max(place.bar);
        let jumped = self.seen.last().is_some_and(|last| last.at > grid);
        if jumped {
            self.seen.clear();
        }
        if self.seen.last().is_none_or(|last| last.symbol != symbol) {
            self.seen.retain(|seen| seen.at != grid);
            let at = if self.seen.is_empty() { place.bar } else { grid };
            self.seen.push(SheetChord { at, symbol });
        }
        // What holds on the bar line is written there.
        let before = self.seen.partition_point(|seen| seen.at <= place.bar);
        self.seen.drain(..before.saturating_sub(1));
        if let Some(first) = self.seen.first_mut() {
            first.at = first.at.max(place.bar);
        }
    }
}

impl Basis {
    /// Where what sounds at `at` is counted.
    fn counted(&self, at: Ticks) -> Ticks {
        swing::counted(at, self.place.of(at), self.swing)
    }

    /// From when on strokes are due whose keys are not chosen yet.
    fn known_until(&self) -> Option<Ticks> {
        let open = self.slots.iter().find(|slot| slot.role.is_some() && slot.key.is_none());
        let line = self.place.bar + self.place.metre.bar();
        let bare = !self.slots.iter().any(|slot| slot.at >= line);
        open.map(|slot| self.counted(slot.at)).or(bare.then_some(line))
    }

    fn said(&self, sheet: &Sheet) -> String {
        let name = |note: &SheetNote| sheet.name_of(note.key, note.at);
        let notes: Vec<_> = sheet.left.iter().map(name).collect();
        let bar = self.place.number + 1;
        format!("The staff, bars {bar} and {}: {}", bar + 1, notes.join(", "))
    }
}

/// Both bars: what was played as long as it sounded, what sounds still under what was
/// struck since to the end of its bar, the rest until the next.
fn sheet(snapshot: &Snapshot, basis: &Basis) -> Sheet {
    let place = basis.place;
    let bar = |n: i64| {
        let at = place.bar + Ticks(n * place.metre.bar().0);
        SheetBar {
            at,
            end: at + place.metre.bar(),
            metre: place.metre,
            number: place.number + 1 + n,
            repeat_from: false,
            repeat_times: None,
            ending: None,
            section: None,
        }
    };
    // The one behind them, which is not drawn: the music does not end here.
    let bars = vec![bar(0), bar(1), bar(2)];
    let end = place.bar + Ticks(2 * place.metre.bar().0);
    let struck: Vec<_> = basis.slots.iter().filter(|slot| slot.role.is_some()).collect();
    let mut left = Vec::new();
    for (n, slot) in struck.iter().enumerate() {
        let at = basis.counted(slot.at).max(place.bar);
        let next = struck.get(n + 1);
        let until_next = next.map_or(end, |next| basis.counted(next.at).min(end));
        let line = place.bar + place.metre.bar();
        let bar_end = if at < line { line } else { end };
        let [low, others] = slot.ends.map(|ended| match ended {
            Some(ended) => basis.counted(ended).max(at + Ticks(1)),
            None if slot.played && next.is_some_and(|next| next.played) => bar_end,
            None => until_next,
        });
        left.extend(slot.keys().map(|key| {
            let is_low = Some(key) == slot.key;
            let (until, role) = if is_low { (low, slot.role) } else { (others, None) };
            SheetNote { at, until, key, role }
        }));
    }
    Sheet {
        title: String::new(),
        pattern: String::new(),
        key: snapshot.key.into(),
        tempo: basis.tempo.max(1.0),
        swing: 50,
        bars,
        chords: basis.chords.clone(),
        right: Vec::new(),
        left,
        reasons: Vec::new(),
    }
}

/// Without the rests from where nothing is known: there something will be struck.
fn known(system: &StaffSystem, until: Option<Ticks>) -> Vec<Mark> {
    let x = until.map_or(f32::INFINITY, |at| system.x_of(at) - 0.1);
    let rests = Glyph::REST_BREVE.0..=Glyph::REST_16TH.0;
    let is_open = |mark: &&Mark| match &mark.shape {
        Shape::Glyph { glyph, origin, .. } => rests.contains(&glyph.0) && origin.x >= x,
        _ => false,
    };
    system.marks.iter().filter(|mark| !is_open(mark)).cloned().collect()
}

/// Where the music is now.
fn band(easel: &Easel, rect: Rect, x: f32, palette: &Palette) {
    let middle = easel.at(x + 0.59, 0.0).x; // half a head
    let half = easel.space();
    let band = Rect::from_x_y_ranges(middle - half..=middle + half, rect.y_range());
    easel.painter().rect_filled(band, 2.0, palette.mark);
}

fn said(response: &Response, text: &str) {
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, text));
}

#[cfg(test)]
mod tests {
    use super::*;
    use sinistra_core::pitch::KeyNumber;
    use sinistra_core::play::Role as Part;

    #[test]
    fn what_was_played_is_written_as_long_as_it_sounded_and_what_sounds_on_is_held() {
        let slot = |at: i64, key: i32, above, end: Option<i64>, played| SlotView {
            at: Ticks(at),
            role: Some(Part::Root),
            key: Some(KeyNumber::clamped(key)),
            above,
            played,
            ends: [end.map(Ticks), end.map(Ticks)],
        };
        let slots = vec![
            slot(0, 36, 0, None, true),              // sounds on under what follows
            slot(960, 48, 1 << 3, Some(1400), true), // two keys, let go early
            slot(1920, 55, 0, None, true),           // sounds still: to the next
            slot(2880, 52, 0, None, false),
        ];
        let snapshot = Snapshot { playing: true, at: Ticks(2000), ..Snapshot::default() };
        let (place, chords) = (snapshot.place, Vec::new());
        let basis = Basis { slots, chords, place, swing: 0.5, tempo: 100.0 };
        let left = sheet(&snapshot, &basis).left;
        let lengths: Vec<_> = left.iter().map(|note| (note.at.0, note.until.0)).collect();
        let expected = [(0, 3840), (960, 1400), (960, 1400), (1920, 2880), (2880, 7680)];
        assert_eq!(lengths, expected);
    }
}
