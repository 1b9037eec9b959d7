//! What was played, under what was asked: heads at the moment of their stroke,
//! how far early or late as a distance, a shape and a word.

use egui::{Shape, Stroke};
use sinistra_core::pitch::KeyNumber;
use sinistra_core::time::Ticks;
use sinistra_score::practice::{Hand, NoteVerdict, Outcome};
use sinistra_score::sheet::Staff;
use sinistra_score::sheet::engrave::{Echo, EchoStaff, StaffSystem};

use super::music::{MusicLine, echo_staves};
use super::scene::{RoomScene, SittingState};
use crate::staff::Easel;

/// Half a head: columns are where heads start.
const HALF: f32 = 0.59;
/// Between what was asked and what was played.
const APART: f32 = 2.0;
/// Under a staff of what was played: shapes and words.
const UNDER: f32 = 5.2;

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

struct PlayedLine {
    echo: EchoStaff,
    fates: Vec<Fate>,
    extras: Vec<f32>,
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
        let staves = echo_staves(sheet.lesson);
        let lines = staves.iter().map(|staff| line(sheet, system, *staff, staves.len()));
        // While it is played nothing is judged yet.
        let under = if sheet.scene.state == SittingState::Playing { 1.0 } else { UNDER };
        Self { lines: lines.collect(), under }
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
    PlayedLine { echo: sheet.lesson.engraver.echo(system, staff, &echoes), fates, extras }
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
    fn paint(&self, easel: &Easel, sheet: &MusicLine) {
        let palette = sheet.palette;
        easel.paint_music(&self.echo.marks, palette.left);
        let lane = self.echo.reach.1 + 1.2;
        for fate in &self.fates {
            self.fate(easel, fate, lane, sheet);
        }
        for x in &self.extras {
            easel.words(*x, lane + 1.5, "extra", WORD, palette.fault);
        }
    }

    /// When it was due as an upright line, the way to the stroke as an arrow,
    /// and under it the word.
    fn fate(&self, easel: &Easel, fate: &Fate, lane: f32, sheet: &MusicLine) {
        let palette = sheet.palette;
        let painter = easel.painter();
        let width = (0.14 * easel.space()).max(1.0);
        let due = Stroke::new(width, palette.faint);
        painter.line_segment([easel.at(fate.due, lane - 0.6), easel.at(fate.due, lane + 0.6)], due);
        let words = |y: f32, text: &str, colour| {
            easel.words(fate.due, lane + y, text, WORD, colour);
        };
        match fate.outcome {
            Outcome::Right => {
                let at = easel.at(fate.struck.unwrap_or(fate.due), lane);
                painter.circle_filled(at, 0.3 * easel.space(), palette.right);
            }
            Outcome::Early | Outcome::Late => {
                let struck = fate.struck.unwrap_or(fate.due);
                let side = if fate.outcome == Outcome::Late { 1.0 } else { -1.0 };
                let tip = easel.at(struck, lane);
                let base = easel.at(struck - side * 0.7, lane - 0.45);
                let foot = easel.at(struck - side * 0.7, lane + 0.45);
                let ink = palette.ink;
                painter
                    .line_segment([easel.at(fate.due, lane), tip], Stroke::new(width * 1.5, ink));
                painter.add(Shape::convex_polygon(vec![tip, base, foot], ink, Stroke::NONE));
                words(1.5, &format!("{:.0} ms", fate.late_ms.abs()), ink);
                words(2.9, if side > 0.0 { "late" } else { "early" }, ink);
            }
            Outcome::Missed => {
                let ring = Stroke::new(width, palette.fault);
                painter.circle_stroke(easel.at(fate.due, lane), 0.5 * easel.space(), ring);
                words(1.5, "missed", palette.fault);
            }
            Outcome::Wrong => match &fate.names {
                Some((played, asked)) => {
                    words(1.5, &format!("{played},"), palette.fault);
                    words(2.9, &format!("not {asked}"), palette.fault);
                }
                None => words(1.5, "wrong", palette.fault),
            },
            Outcome::Octave => {
                words(1.5, "other", palette.fault);
                words(2.9, "octave", palette.fault);
            }
        }
    }
}
