//! What was played, under what was asked: heads at the moment of their stroke,
//! how far early or late as a distance, a shape and a word.

use egui::{Shape, Stroke};
use sinistra_core::pitch::KeyNumber;
use sinistra_core::time::Ticks;
use sinistra_score::practice::{Hand, NoteVerdict, Outcome};
use sinistra_score::sheet::Staff;
use sinistra_score::sheet::engrave::mark::words_width;
use sinistra_score::sheet::engrave::{Echo, EchoStaff, StaffSystem};

use super::music::MusicLine;
use super::scene::{RoomScene, SittingState};
use crate::look::Palette;
use crate::staff::Easel;

/// Half a head: columns are where heads start.
const HALF: f32 = 0.59;
/// Between what was asked and what was played.
const APART: f32 = 2.0;
/// From a staff of what was played to the lane of shapes.
const LANE: f32 = 1.2;
/// From there to the first line of words, from line to line, and below the last.
const WORDS: f32 = 1.5;
const LINE: f32 = 1.4;
const BELOW: f32 = 1.1;

/// Letters of the words, spaces: as many as stand beside each other in eighths.
const WORD: f32 = 1.1;

/// What became of a note of these bars.
struct Fate {
    outcome: Outcome,
    /// Where it was due.
    due: f32,
    /// Where it was struck.
    struck: Option<f32>,
    late_ms: f64,
    /// Names of what was struck and of what was asked, where they differ.
    names: Option<(String, String)>,
}

/// What is said under a note, a line or two.
struct Remark {
    x: f32,
    said: Vec<String>,
    is_fault: bool,
    /// Its first line, from the middle of the lane of shapes.
    y: f32,
}

struct PlayedLine {
    echo: EchoStaff,
    fates: Vec<Fate>,
    remarks: Vec<Remark>,
}

/// The staves of what was played in these bars.
pub struct PlayedStaves {
    lines: Vec<PlayedLine>,
    /// Spaces under each staff.
    under: f32,
}

impl PlayedStaves {
    /// From the verdict, or while the round is played from the strokes.
    pub fn of(sheet: &MusicLine, system: &StaffSystem) -> Self {
        let staves = sheet.lesson.staves;
        let lines = staves.iter().map(|staff| line(sheet, system, *staff, staves.len()));
        // While it is played nothing is judged yet.
        let lines: Vec<PlayedLine> = lines.collect();
        let lowest = lines.iter().map(PlayedLine::lowest).fold(WORDS + LINE, f32::max);
        let playing = sheet.scene.state == SittingState::Playing;
        let under = if playing { 1.0 } else { LANE + lowest + BELOW };
        Self { lines, under }
    }

    /// Spaces that it takes under the system.
    pub fn height(&self) -> f32 {
        let one = |line: &PlayedLine| APART - line.echo.reach.0 + line.echo.reach.1 + self.under;
        self.lines.iter().map(one).sum()
    }

    /// For those who listen to the window.
    pub fn said(&self, scene: &RoomScene) -> String {
        let fates = || self.lines.iter().flat_map(|line| &line.fates);
        let count = |wanted: Outcome| fates().filter(|fate| fate.outcome == wanted).count();
        if scene.state == SittingState::Playing {
            return "The music, these bars, and what you play".into();
        }
        format!(
            "What was asked and what you played: {} right, {} early, {} late, {} missed, {} wrong",
            count(Outcome::Right),
            count(Outcome::Early),
            count(Outcome::Late),
            count(Outcome::Missed),
            count(Outcome::Wrong) + count(Outcome::Octave)
        )
    }

    /// Paints it with the end of the system at the easel's origin.
    pub fn paint(&self, easel: &Easel, sheet: &MusicLine) {
        let mut y = 0.0;
        for line in &self.lines {
            y += APART - line.echo.reach.0;
            let staff = easel.lower(y);
            line.paint(&staff, sheet);
            y += line.echo.reach.1 + self.under;
        }
    }
}

fn line(sheet: &MusicLine, system: &StaffSystem, staff: Staff, count: usize) -> PlayedLine {
    let hand = if staff == Staff::Left { Hand::Left } else { Hand::Right };
    let ends = system.columns.first().zip(system.columns.last());
    let (from, to) = ends.map_or((Ticks::ZERO, Ticks::ZERO), |(a, b)| (a.0, b.0));
    let clock = &sheet.scene.clock;
    let x_of = |at: Ticks| system.x_of(at) + HALF;
    let near = Ticks(240); // an early first note belongs to its bar
    let here = |at: Ticks| from - near <= at && at < to - near;
    let strokes = &sheet.scene.strokes;
    let at_of = |ms: f64| clock.ticks(ms - clock.delay_ms);
    let mut echoes: Vec<Echo> = Vec::new();
    let mut fates = Vec::new();
    let mut extras = Vec::new();
    let mut echo = |at: Ticks, key: KeyNumber, wrong: bool| {
        echoes.push(Echo { at: at.max(from), key, x: x_of(at), wrong });
    };
    match &sheet.scene.judged {
        Some(judged) if sheet.scene.state != SittingState::Playing => {
            let notes = judged.verdict.notes.iter();
            for n in notes.filter(|n| n.note.hand == hand && (from..to).contains(&n.note.at)) {
                let struck = n.stroke.and_then(|index| strokes.get(index));
                let at = struck.map(|stroke| at_of(stroke.at_ms));
                if let (Some(at), Some(key)) = (at, n.played) {
                    echo(at, key, matches!(n.outcome, Outcome::Wrong | Outcome::Octave));
                }
                let name =
                    |key: KeyNumber| sheet.lesson.exercise.key.spell(key.class()).to_string();
                let names = n.played.map(|played| (name(played), name(n.note.key)));
                keep_worst(&mut fates, fate(n, x_of(n.note.at), at.map(x_of), names));
            }
            let extra = judged.verdict.extras.iter().filter(|e| e.hand == hand);
            for e in extra.filter_map(|e| strokes.get(e.stroke)) {
                let at = at_of(e.at_ms);
                if here(at) {
                    echo(at, e.key, true);
                    extras.push(x_of(at));
                }
            }
        }
        _ => {
            for stroke in strokes.iter() {
                let at = at_of(stroke.at_ms);
                let left = stroke.key < KeyNumber::MIDDLE_C;
                let mine = count == 1 || left == (hand == Hand::Left);
                if mine && here(at) {
                    echo(at, stroke.key, false);
                }
            }
        }
    }
    echoes.sort_by_key(|echo| echo.at);
    let extra = |x: f32| Remark { x, said: vec!["extra".into()], is_fault: true, y: WORDS };
    let mut remarks: Vec<Remark> = fates.iter().filter_map(Fate::remark).collect();
    remarks.extend(extras.into_iter().map(extra));
    stand_apart(&mut remarks);
    PlayedLine { echo: sheet.lesson.engraver.echo(system, staff, &echoes), fates, remarks }
}

/// Puts each as high as those before it leave room.
fn stand_apart(remarks: &mut [Remark]) {
    for index in 0..remarks.len() {
        let (before, rest) = remarks.split_at_mut(index);
        let Some(remark) = rest.first_mut() else { return };
        while before.iter().any(|other| other.touches(remark)) {
            remark.y += LINE;
        }
    }
}

impl Remark {
    fn touches(&self, other: &Self) -> bool {
        let apart = (self.x - other.x).abs() - f32::midpoint(self.width(), other.width());
        apart < 0.3 && self.y < other.end() && other.y < self.end()
    }

    fn width(&self) -> f32 {
        self.said.iter().map(|line| words_width(line, WORD)).fold(0.0, f32::max)
    }

    /// Where the line under its last would be.
    fn end(&self) -> f32 {
        self.y + self.said.len() as f32 * LINE
    }
}

impl Fate {
    fn remark(&self) -> Option<Remark> {
        let (said, is_fault) = match (self.outcome, &self.names) {
            (Outcome::Right, _) => return None,
            (Outcome::Early | Outcome::Late, _) => {
                let way = if self.outcome == Outcome::Late { "late" } else { "early" };
                (vec![format!("{:.0} ms", self.late_ms.abs()), way.into()], false)
            }
            (Outcome::Missed, _) => (vec!["missed".into()], true),
            (Outcome::Wrong, Some((played, asked))) => {
                (vec![format!("{played},"), format!("not {asked}")], true)
            }
            (Outcome::Wrong, None) => (vec!["wrong".into()], true),
            (Outcome::Octave, _) => (vec!["other".into(), "octave".into()], true),
        };
        Some(Remark { x: self.due, said, is_fault, y: WORDS })
    }
}

/// Of notes that are due together, the one that went most wrong is marked.
fn keep_worst(fates: &mut Vec<Fate>, fate: Fate) {
    let rank = |fate: &Fate| match fate.outcome {
        Outcome::Right => 0.0,
        Outcome::Early | Outcome::Late => 1.0 + fate.late_ms.abs(),
        Outcome::Octave => 1e6,
        Outcome::Wrong => 2e6,
        Outcome::Missed => 3e6,
    };
    match fates.iter_mut().find(|other| (other.due - fate.due).abs() < 0.05) {
        Some(other) if rank(&fate) > rank(other) => *other = fate,
        Some(_) => {}
        None => fates.push(fate),
    }
}

fn fate(n: &NoteVerdict, due: f32, struck: Option<f32>, names: Option<(String, String)>) -> Fate {
    // A free exercise asks for no one note.
    let names = names.filter(|(played, asked)| played != asked && n.rule.is_none());
    Fate { outcome: n.outcome, due, struck, late_ms: n.late_ms.unwrap_or(0.0), names }
}

impl PlayedLine {
    /// The lowest line of words, from the lane of shapes.
    fn lowest(&self) -> f32 {
        self.remarks.iter().map(|remark| remark.end() - LINE).fold(0.0, f32::max)
    }

    fn paint(&self, easel: &Easel, sheet: &MusicLine) {
        let palette = sheet.palette;
        easel.paint_music(&self.echo.marks, palette.left);
        let lane = self.echo.reach.1 + LANE;
        for fate in &self.fates {
            fate.paint(easel, lane, palette);
        }
        for remark in &self.remarks {
            let colour = if remark.is_fault { palette.fault } else { palette.ink };
            for (n, line) in remark.said.iter().enumerate() {
                let y = lane + remark.y + n as f32 * LINE;
                easel.words(remark.x, y, line, WORD, colour);
            }
        }
    }
}

impl Fate {
    /// When it was due as an upright line, the way to the stroke as an arrow.
    fn paint(&self, easel: &Easel, lane: f32, palette: &Palette) {
        let painter = easel.painter();
        let width = (0.14 * easel.space()).max(1.0);
        let due = Stroke::new(width, palette.faint);
        painter.line_segment([easel.at(self.due, lane - 0.6), easel.at(self.due, lane + 0.6)], due);
        let struck = self.struck.unwrap_or(self.due);
        match self.outcome {
            Outcome::Right => {
                painter.circle_filled(easel.at(struck, lane), 0.3 * easel.space(), palette.right);
            }
            Outcome::Early | Outcome::Late => {
                let side = if self.outcome == Outcome::Late { 1.0 } else { -1.0 };
                let tip = easel.at(struck, lane);
                let base = easel.at(struck - side * 0.7, lane - 0.45);
                let foot = easel.at(struck - side * 0.7, lane + 0.45);
                let way = Stroke::new(width * 1.5, palette.ink);
                painter.line_segment([easel.at(self.due, lane), tip], way);
                let point = vec![tip, base, foot];
                painter.add(Shape::convex_polygon(point, palette.ink, Stroke::NONE));
            }
            Outcome::Missed => {
                let ring = Stroke::new(width, palette.fault);
                painter.circle_stroke(easel.at(self.due, lane), 0.5 * easel.space(), ring);
            }
            Outcome::Wrong | Outcome::Octave => {}
        }
    }
}
