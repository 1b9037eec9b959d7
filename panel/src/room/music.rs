//! The music: the present two bars and the next two while a round is played,
//! asked and played one under the other after it.

use egui::{Painter, Pos2, Rect, Response, Role, Sense, Ui, WidgetInfo, vec2};
use sinistra_core::time::Ticks;
use sinistra_score::practice::Outcome;
use sinistra_score::sheet::engrave::{EngraveOptions, StaffSystem};

use super::played;
use super::scene::{LessonPage, RoomScene, SittingState};
use crate::look::Palette;
use crate::staff::Easel;
use sinistra_score::practice::RoundStage;

/// Bars on a line.
const BARS: usize = 2;
/// Points in a staff space, at the least and at the most; the least in a low window, so
/// that all of it is seen there (at 200 % eight pixels, as on paper).
const SPACE: (f32, f32) = (5.0, 30.0);
const LOW: f32 = 4.0;
/// The next bars are only looked at ahead, and so smaller.
const AHEAD: f32 = 0.6;
/// While it is played, it takes about so many spaces under what is asked.
const ECHO: f32 = 10.0;

/// Which two bars are looked at.
#[derive(Default)]
pub struct Music {
    /// The first of them, an index in the song as it is played.
    first: usize,
    /// The round whose verdict was last turned to.
    turned_for: Option<(u32, u32)>,
    pages: (usize, usize),
    /// Where a mark with the mouse began, and how far it reaches: bars, indices in the
    /// song as it is played.
    marked: Option<(usize, usize)>,
}

impl Music {
    /// Follows the round; after it, turns to where most went wrong.
    pub fn follow(&mut self, scene: &RoomScene) {
        let Some(lesson) = &scene.lesson else { return };
        let (from, to) = span(lesson, scene);
        self.pages = (from, to);
        if scene.state == SittingState::Playing {
            self.turned_for = None;
            let now = scene.clock.ticks(scene.clock.now_ms).max(scene.clock.span.0);
            let bar = index_of(lesson, now).clamp(from, to.saturating_sub(1).max(from));
            self.first = from + (bar - from) / BARS * BARS;
        } else if scene.judged.is_some() && self.turned_for != Some(scene.rounds) {
            self.turned_for = Some(scene.rounds);
            self.first = worst(lesson, scene, from, to);
        }
        self.first = self.first.clamp(from, to.saturating_sub(1).max(from));
    }

    /// Turns pages, forward or back.
    pub fn turn(&mut self, by: isize) {
        let (from, to) = self.pages;
        let next = self.first.saturating_add_signed(by * BARS as isize);
        if (from..to).contains(&next) {
            self.first = next;
        }
    }

    /// The printed bars that are shown, first and last.
    pub fn shown(&self, scene: &RoomScene) -> Option<(i64, i64)> {
        let lesson = scene.lesson.as_ref()?;
        let bars = &lesson.engraver.sheet().bars;
        let last = (self.first + BARS - 1).min(bars.len().checked_sub(1)?);
        let (first, last) = (bars.get(self.first)?.number, bars.get(last)?.number);
        Some((first.min(last), first.max(last)))
    }

    /// Draws it as wide as there is room, `why` under it if that is wanted. Gives the printed bars, first and last, that
    /// the mouse has just marked.
    pub fn ui(
        &mut self,
        ui: &mut Ui,
        scene: &RoomScene,
        palette: &Palette,
        why: bool,
    ) -> Option<(i64, i64)> {
        let lesson = scene.lesson.clone()?;
        if scene.state != SittingState::Playing && !super::is_low(ui) {
            self.pager(ui, scene);
        }
        let (width, height) = (ui.available_width(), ui.clip_rect().height() - 24.0);
        let options = options(&lesson, scene, why);
        let judged = scene.judged.is_some() && scene.state != SittingState::Playing;
        let natural = self.system(&lesson, self.first, None, &options);
        // As large as the window lets these bars be, and what stands under them.
        let sheet = MusicLine { lesson: &lesson, scene, palette, space: 1.0 };
        let under = match judged {
            true => played::PlayedStaves::of(&sheet, &natural).height(),
            false => ECHO + AHEAD * natural.height(),
        };
        let wide = width / natural.width.max(60.0);
        let high = height / (natural.height() + under);
        let least = if super::is_low(ui) { LOW } else { SPACE.0 };
        let wish = wide.min(high).clamp(least, SPACE.1);
        let space = Easel::fitting(wish, ui.ctx().pixels_per_point());
        let spaces = (width - 4.0) / space;
        let system = self.system(&lesson, self.first, Some(spaces), &options);
        let sheet = MusicLine { space, ..sheet };
        let mut touched = Vec::new();
        touched.push(
            if judged || (scene.state == SittingState::Playing && scene.act != RoundStage::Hear) {
                sheet.asked_and_played(ui, &system, self.marked)
            } else {
                sheet.line(ui, &system, 0.0, "The music, these bars", self.marked)
            },
        );
        let next = self.first + BARS;
        if !judged && next < self.pages.1 {
            let space = Easel::fitting(AHEAD * space, ui.ctx().pixels_per_point());
            let system = self.system(&lesson, next, Some((width - 4.0) / space), &options);
            let ahead = MusicLine { space, ..sheet };
            touched.push(ahead.line(ui, &system, 0.45, "The music, the next bars", self.marked));
        }
        self.mark(&touched, &lesson)
    }

    /// Follows the mouse over the bars; when it is let go, what it marked is given.
    fn mark(&mut self, touched: &[Touched], lesson: &LessonPage) -> Option<(i64, i64)> {
        if let Some(bar) = touched.iter().find_map(|line| line.begun) {
            self.marked = Some((bar, bar));
        }
        if let (Some((_, to)), Some(bar)) =
            (&mut self.marked, touched.iter().find_map(|line| line.over))
        {
            *to = bar;
        }
        if !touched.iter().any(|line| line.ended) {
            return None;
        }
        let (a, b) = self.marked.take()?;
        let number = |bar: usize| Some(lesson.engraver.sheet().bars.get(bar)?.number);
        let (a, b) = (number(a)?, number(b)?);
        Some((a.min(b), a.max(b)))
    }

    fn system(
        &self,
        lesson: &LessonPage,
        first: usize,
        width: Option<f32>,
        options: &EngraveOptions,
    ) -> StaffSystem {
        let last = (first + BARS).min(self.pages.1.max(first + 1));
        let mut system = lesson.engraver.system(first..last, width, options);
        // Swing moves the "ands" in time, not on the page.
        for column in &mut system.columns {
            column.0 = lesson.exercise.swung(column.0);
        }
        system
    }

    /// Which bars are shown, and those beside them.
    pub fn pager(&mut self, ui: &mut Ui, scene: &RoomScene) {
        ui.horizontal(|ui| {
            let (from, to) = self.pages;
            let (back, on) = (self.first > from, self.first + BARS < to);
            let [before, after] = match super::is_low(ui) {
                true => ["◀ Before", "After ▶"],
                false => ["◀ Bars before", "Bars after ▶"],
            };
            if ui.add_enabled(back, egui::Button::new(before)).clicked() {
                self.turn(-1);
            }
            if let Some((first, last)) = self.shown(scene) {
                ui.label(if first == last {
                    format!("Bar {first}")
                } else {
                    format!("Bars {first}–{last}")
                });
            }
            if ui.add_enabled(on, egui::Button::new(after)).clicked() {
                self.turn(1);
            }
        });
    }
}

/// The bars of the exercise that are practised, indices in the song.
fn span(lesson: &LessonPage, scene: &RoomScene) -> (usize, usize) {
    let bars = &lesson.engraver.sheet().bars;
    let Some((first, last)) = scene.bars else { return (0, bars.len()) };
    let (from, to) = lesson.exercise.span(first, last);
    (index_of(lesson, from), bars.partition_point(|bar| bar.at < to))
}

fn index_of(lesson: &LessonPage, at: Ticks) -> usize {
    lesson.engraver.sheet().bars.partition_point(|bar| bar.at <= at).saturating_sub(1)
}

/// The pair of bars with the most that was not right.
fn worst(lesson: &LessonPage, scene: &RoomScene, from: usize, to: usize) -> usize {
    let Some(judged) = &scene.judged else { return from };
    let mut counts = vec![0_usize; to.saturating_sub(from).div_ceil(BARS).max(1)];
    for note in judged.verdict.notes.iter().filter(|n| n.outcome != Outcome::Right) {
        let page = index_of(lesson, note.note.at).saturating_sub(from) / BARS;
        if let Some(count) = counts.get_mut(page) {
            *count += 1;
        }
    }
    let most = counts.iter().max().copied().unwrap_or(0);
    from + counts.iter().position(|count| *count == most).unwrap_or(0) * BARS
}

fn options(lesson: &LessonPage, scene: &RoomScene, why: bool) -> EngraveOptions {
    let quiet = scene.state == SittingState::Playing;
    EngraveOptions {
        staves: lesson.staves,
        chords: true,
        counts: true,
        roles: !quiet,
        fingers: true,
        reasons: why,
    }
}

/// What the mouse does on a line of music: bars, indices in the song as it is played.
#[derive(Default)]
struct Touched {
    /// A mark begins here.
    begun: Option<usize>,
    /// The mouse is here.
    over: Option<usize>,
    /// A mark is over.
    ended: bool,
}

/// A line of music on the screen.
pub struct MusicLine<'a> {
    pub lesson: &'a LessonPage,
    pub scene: &'a RoomScene,
    pub palette: &'a Palette,
    space: f32,
}

impl MusicLine<'_> {
    /// One system; the place in it if the round is there.
    fn line(
        &self,
        ui: &mut Ui,
        system: &StaffSystem,
        fade: f32,
        name: &str,
        marked: Option<(usize, usize)>,
    ) -> Touched {
        let (easel, response) = self.easel(ui, system, system.bottom, name);
        let touched = self.touched(&easel, &response, system, marked);
        self.cursor(&easel, response.rect, system);
        easel.paint(&system.marks, fade);
        touched
    }

    /// The bars under the mouse, with those that are marked shown.
    fn touched(
        &self,
        easel: &Easel,
        response: &Response,
        system: &StaffSystem,
        marked: Option<(usize, usize)>,
    ) -> Touched {
        let first = system.columns.first().map_or(0, |column| index_of(self.lesson, column.0));
        let x = |x: f32| easel.at(x, 0.0).x;
        if let Some((a, b)) = marked {
            let bars = system.bars.iter().enumerate();
            for (_, (from, to)) in
                bars.filter(|(n, _)| (a.min(b)..=a.max(b)).contains(&(first + n)))
            {
                let band = Rect::from_x_y_ranges(x(*from)..=x(*to), response.rect.y_range());
                easel.painter().rect_filled(band, 2.0, self.palette.mark);
            }
        }
        let bar_at = |at: Pos2| {
            let within = response.rect.y_range().contains(at.y);
            let bar = system.bars.iter().position(|(_, to)| at.x < x(*to));
            within.then(|| first + bar.unwrap_or(system.bars.len().saturating_sub(1)))
        };
        let origin = response.ctx.input(|input| input.pointer.press_origin());
        let begun = response.drag_started() || response.double_clicked();
        Touched {
            begun: origin.filter(|_| begun).and_then(bar_at),
            over: response.ctx.input(|input| input.pointer.latest_pos()).and_then(bar_at),
            ended: response.drag_stopped() || response.double_clicked(),
        }
    }

    /// What was asked, and under it what was played.
    fn asked_and_played(
        &self,
        ui: &mut Ui,
        system: &StaffSystem,
        marked: Option<(usize, usize)>,
    ) -> Touched {
        let played = played::PlayedStaves::of(self, system);
        let bottom = system.bottom + played.height();
        let said = played.said(self.scene);
        let (easel, response) = self.easel(ui, system, bottom, &said);
        let touched = self.touched(&easel, &response, system, marked);
        self.cursor(&easel, response.rect, system);
        easel.paint(&system.marks, 0.0);
        played.paint(&easel.lower(system.bottom), self);
        touched
    }

    fn easel(
        &self,
        ui: &mut Ui,
        system: &StaffSystem,
        bottom: f32,
        name: &str,
    ) -> (Easel, Response) {
        let height = (bottom - system.top + 1.0) * self.space;
        let size = vec2(ui.available_width(), height);
        let (rect, response) = ui.allocate_exact_size(size, Sense::click_and_drag());
        response.widget_info(|| WidgetInfo::labeled(Role::Label, true, name));
        let painter: Painter = ui.painter_at(rect);
        painter.rect_filled(rect, 4.0, self.palette.sheet);
        let origin = rect.left_top() + vec2(2.0, (0.5 - system.top) * self.space);
        (Easel::new(painter, origin, self.space, *self.palette), response)
    }

    /// A band where the music is now.
    fn cursor(&self, easel: &Easel, rect: Rect, system: &StaffSystem) {
        if self.scene.state != SittingState::Playing {
            return;
        }
        let now = self.scene.clock.ticks(self.scene.clock.now_ms);
        let ends = system.columns.first().zip(system.columns.last());
        let Some((first, last)) = ends else { return };
        let head = 0.59; // half a head
        if first.0 <= now && now < last.0 {
            let middle = easel.at(system.x_of(now) + head, 0.0).x;
            let half = self.space;
            let band = Rect::from_x_y_ranges(middle - half..=middle + half, rect.y_range());
            easel.painter().rect_filled(band, 2.0, self.palette.mark);
        }
    }
}
