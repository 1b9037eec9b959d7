//! The chart as a page of bars, with the place in it.

use std::sync::Arc;

use egui::{Galley, Rect, RichText, Role, Sense, Stroke, StrokeKind, Ui, WidgetInfo, pos2, vec2};
use sinistra_core::engine::Snapshot;
use sinistra_core::foresee::Song;
use sinistra_score::chart::{Bar, Cell, Chart, Content};

use super::script;
use crate::look::{Palette, text_font};

const BAR_HEIGHT: f32 = 52.0;
const LEAST_WIDTH: f32 = 92.0;
/// Height of a symbol, and of one in a narrow place; points.
const SYMBOL: f32 = 17.0;
const LEAST_SYMBOL: f32 = 12.0;

/// Title and bars, a phrase to a row where there is room for it; the chord that
/// holds is framed.
pub fn ui(ui: &mut Ui, chart: &Chart, song: &Song, snapshot: &Snapshot, palette: &Palette) {
    ui.label(RichText::new(chart.title()).heading());
    let place =
        snapshot.chart_chord.and_then(|index| Some(song.chords().get(index)?.written as usize));
    let room = (ui.available_width() / LEAST_WIDTH).floor().max(1.0) as usize;
    let (mut symbol, mut number) = (0, 1);
    for phrase in phrases(&chart.draft().bars) {
        if let Some(section) = phrase.first().and_then(|bar| bar.section.as_ref()) {
            ui.label(RichText::new(section).strong().color(palette.faint));
        }
        let most = to_a_row(phrase.len(), room);
        for row in phrase.chunks(most) {
            let mut placed = vec![];
            for bar in row {
                placed.push((bar, symbol));
                symbol += symbols(bar);
            }
            bars(ui, &placed, (most, number), place, palette);
            number += row.len();
        }
    }
}

/// The bars, cut where a section or a line of the chart begins.
fn phrases(bars: &[Bar]) -> impl Iterator<Item = &[Bar]> {
    bars.chunk_by(|_, next| next.section.is_none() && !next.starts_line)
}

/// Bars to a row: the whole phrase, or equal parts of it if there is no room; what
/// cannot be cut so gets as many as there is room for.
fn to_a_row(phrase: usize, room: usize) -> usize {
    let parts = (1..=phrase).filter(|parts| phrase.is_multiple_of(*parts));
    let equal = parts.map(|parts| phrase / parts).find(|bars| *bars <= room);
    equal.filter(|bars| *bars * 2 > room || *bars >= 4).unwrap_or(room.min(phrase)).max(1)
}

/// Written chords and silences in a bar.
fn symbols(bar: &Bar) -> usize {
    match &bar.content {
        Content::Same => 0,
        Content::Places(cells) => cells.iter().filter(|cell| **cell != Cell::Hold).count(),
    }
}

fn bars(
    ui: &mut Ui,
    row: &[(&Bar, usize)],
    (most, number): (usize, usize),
    place: Option<usize>,
    palette: &Palette,
) {
    let width = ui.available_width();
    let size = vec2(width, BAR_HEIGHT);
    let (rect, response) = ui.allocate_exact_size(size, Sense::hover());
    let each = width / most.max(1) as f32;
    // A line below the music, with a stroke where a bar begins.
    let (left, right) = (rect.left(), rect.left() + each * row.len() as f32);
    ui.painter().hline(left..=right, rect.bottom() - 6.0, Stroke::new(1.0, palette.line));
    let at = pos2(left + 3.0, rect.bottom() - 7.0);
    ui.painter().text(at, egui::Align2::LEFT_BOTTOM, number, text_font(11.0), palette.faint);
    for (n, (bar, first)) in row.iter().enumerate() {
        let corner = pos2(rect.left() + each * n as f32, rect.top());
        let area = Rect::from_min_size(corner, vec2(each, BAR_HEIGHT - 6.0));
        lines(ui, bar, area, palette);
        chords(ui, bar, *first, area, place, palette);
    }
    let here = place.filter(|place| {
        row.iter().any(|(bar, first)| (*first..first + symbols(bar)).contains(place))
    });
    response.widget_info(|| {
        let text = if here.is_some() { "Chart, the place is in this row" } else { "Chart" };
        WidgetInfo::labeled(Role::Label, true, text)
    });
    if here.is_some()
        && !ui.clip_rect().contains_rect(rect)
        && ui.ctx().input(|i| i.pointer.is_still())
    {
        response.scroll_to_me(None);
    }
}

/// Bar lines, repeats, endings and signs.
fn lines(ui: &Ui, bar: &Bar, area: Rect, palette: &Palette) {
    let painter = ui.painter();
    let line = Stroke::new(1.5, palette.line);
    let foot = area.bottom();
    painter.vline(area.left(), foot - 12.0..=foot, line);
    if bar.repeat_start {
        painter.vline(area.left() + 2.0, area.y_range(), Stroke::new(3.0, palette.ink));
        dots(ui, area.left() + 8.0, area, palette);
    }
    if let Some(times) = bar.repeat_end {
        painter.vline(area.right() - 4.0, area.y_range(), Stroke::new(3.0, palette.ink));
        dots(ui, area.right() - 10.0, area, palette);
        if times != 2 {
            let at = area.right_top() + vec2(-12.0, 4.0);
            let text = format!("×{times}");
            painter.text(at, egui::Align2::RIGHT_CENTER, text, text_font(11.0), palette.faint);
        }
    }
    if !bar.ending.is_empty() {
        let numbers: Vec<_> = bar.ending.iter().map(|n| format!("{n}.")).collect();
        let at = area.left_top() + vec2(4.0, 4.0);
        let text = numbers.join(" ");
        painter.text(at, egui::Align2::LEFT_CENTER, text, text_font(11.0), palette.faint);
    }
    let mut signs: Vec<String> = bar.signs.before().into_iter().map(str::to_owned).collect();
    signs.extend(bar.signs.behind());
    if !signs.is_empty() {
        let at = area.left_bottom() + vec2(5.0, -5.0);
        let text = signs.join(", ");
        painter.text(at, egui::Align2::LEFT_CENTER, text, text_font(11.0), palette.ink);
    }
}

/// A bar's chords, of which that in `place` is framed.
fn chords(ui: &Ui, bar: &Bar, first: usize, area: Rect, place: Option<usize>, palette: &Palette) {
    let painter = ui.painter();
    let inner = area.shrink2(vec2(if bar.repeat_start { 14.0 } else { 7.0 }, 0.0));
    let Content::Places(cells) = &bar.content else {
        let centre = inner.center();
        painter.text(centre, egui::Align2::CENTER_CENTER, "%", text_font(20.0), palette.ink);
        return;
    };
    let each = inner.width() / cells.len().max(1) as f32;
    let mut symbol = first;
    let mut covered = inner.left(); // up to where the last symbol reaches
    for (n, cell) in cells.iter().enumerate() {
        let at = pos2(inner.left() + each * n as f32, inner.center().y);
        let text = match cell {
            Cell::Hold if at.x < covered => continue,
            Cell::Hold => {
                painter.circle_filled(at + vec2(4.0, 8.0), 1.5, palette.faint);
                continue;
            }
            Cell::NoChord => "N.C.".into(),
            Cell::Chord(symbol) => symbol.to_string(),
        };
        let holds = cells.iter().skip(n + 1).take_while(|cell| **cell == Cell::Hold).count();
        let galley = fitted(ui, &text, each * (holds + 1) as f32 - 5.0, palette);
        covered = at.x + galley.size().x;
        let spot = Rect::from_min_size(at - vec2(0.0, galley.size().y / 2.0), galley.size());
        if place == Some(symbol) {
            let frame = spot.expand2(vec2(4.0, 3.0));
            painter.rect(
                frame,
                4.0,
                palette.mark,
                Stroke::new(2.0, palette.ink),
                StrokeKind::Inside,
            );
        }
        painter.galley(spot.min, galley, palette.ink);
        symbol += 1;
    }
}

/// A symbol, smaller where its room is small.
fn fitted(ui: &Ui, text: &str, room: f32, palette: &Palette) -> Arc<Galley> {
    let lay = |size| ui.fonts_mut(|f| f.layout_job(script::symbol(text, size, palette.ink)));
    let usual = lay(SYMBOL);
    let wide = usual.size().x;
    if wide <= room { usual } else { lay((SYMBOL * room / wide).max(LEAST_SYMBOL)) }
}

fn dots(ui: &Ui, x: f32, area: Rect, palette: &Palette) {
    for y in [-5.0, 5.0] {
        ui.painter().circle_filled(pos2(x, area.center().y + y), 2.0, palette.ink);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_phrase_is_not_torn_where_it_can_be_cut_evenly() {
        for (phrase, room, bars) in [
            (8, 9, 8),
            (8, 5, 4),
            (12, 9, 6),
            (16, 9, 8),
            (6, 4, 3),
            (7, 4, 4),
            (1, 4, 1),
            (8, 1, 1),
        ] {
            assert_eq!(to_a_row(phrase, room), bars, "{phrase} bars, room for {room}");
        }
    }
}
