//! *Wait for me*: time stands until what is asked next has been struck.

use serde_json::{Value, json};
use sinistra_core::pitch::KeyNumber;
use sinistra_core::time::Ticks;
use sinistra_score::practice::{BesideHand, Exercise, WaitStroke, Waiting, waited};
use sinistra_score::sheet::engrave::{EngraveOptions, Engraver, Page, StaffSystem};
use sinistra_score::sheet::svg;
use sinistra_score::wording::letter;

use super::practise::{OpenLesson, no_lesson};
use super::{Answered, Desk, Question};

/// Bars that are seen at once.
const BARS: usize = 2;
/// Spaces around them, and millimetres in a space.
const MARGIN: f32 = 1.0;
const MM: f32 = 1.6;
/// Half a head, and half of the band over what is asked for; spaces.
const HEAD: f32 = 0.59;
const BAND: f32 = 1.2;

/// A player who is waited for, and the hand beside.
pub struct OpenWait {
    waiting: Waiting,
    beside: BesideHand,
    engraver: Engraver<'static>,
}

impl Desk {
    /// Begins with the first step of the lesson.
    pub(super) fn wait(&mut self) -> Answered {
        let lesson = self.lesson.as_mut().ok_or_else(no_lesson)?;
        let open = OpenWait {
            waiting: Waiting::new(&lesson.exercise, &lesson.plan),
            beside: BesideHand::default(),
            engraver: Engraver::keeping(lesson.exercise.unfolded_sheet()),
        };
        let answer = asked(&open, &lesson.exercise);
        lesson.waited = Some(open);
        Ok((answer, Vec::new()))
    }

    /// A key was struck: what it was, what is asked for now, and what the other hand
    /// lets go and strikes with it.
    pub(super) fn strike(&mut self, q: &Question) -> Answered {
        let OpenLesson { waited: open, exercise, .. } =
            self.lesson.as_mut().ok_or_else(no_lesson)?;
        let open = open.as_mut().ok_or_else(no_lesson)?;
        let step = open.waiting.step().cloned();
        let stroke = open.waiting.strike(KeyNumber::clamped(i32::from(q.struck)));
        let mut answer = asked(open, exercise);
        let done = step.filter(|_| stroke == WaitStroke::Done);
        let (ended, begun) = done.map(|step| open.beside.go_to(&step)).unwrap_or_default();
        let ended: Vec<_> = ended.iter().map(|key| key.number()).collect();
        let begun: Vec<_> = begun.iter().map(|n| (n.key.number(), n.velocity)).collect();
        answer["stroke"] = json!(match stroke {
            WaitStroke::Wrong => "wrong",
            WaitStroke::Part => "part",
            WaitStroke::Done => "done",
        });
        answer["beside"] = json!({ "ended": ended, "begun": begun });
        Ok((answer, Vec::new()))
    }
}

/// What is asked for: its keys with what each is to its chord, in words, on the staff.
fn asked(open: &OpenWait, exercise: &Exercise) -> Value {
    let waiting = &open.waiting;
    let keys: Vec<_> =
        waiting.missing().map(|(key, role)| (key.number(), role.map_or("", letter))).collect();
    let (done, all) = waiting.done();
    let over = waiting.step().is_none().then(|| waited(waiting.slips()));
    json!({
        "asked": keys,
        "words": waiting.words(exercise.key),
        "done": done,
        "all": all,
        "over": over,
        "staff": waiting.step().map(|step| staff(open, exercise, step.at)),
    })
}

/// The two bars around `at`, with a band where it is.
fn staff(open: &OpenWait, exercise: &Exercise, at: Ticks) -> String {
    let bars = &open.engraver.sheet().bars;
    let here = bars.partition_point(|bar| bar.at <= at).saturating_sub(1);
    let first = here / BARS * BARS;
    let drawn = EngraveOptions { roles: false, reasons: false, ..EngraveOptions::ALL };
    let mut system = open.engraver.system(first..first + BARS, None, &drawn);
    // Swing moves the "ands" in time, not on the page.
    for column in &mut system.columns {
        column.0 = exercise.swung(column.0);
    }
    with_band(&system, at, &format!("Bar {}", bars.get(here).map_or(0, |bar| bar.number)))
}

fn with_band(system: &StaffSystem, at: Ticks, title: &str) -> String {
    let (width, height) = (system.width + 2.0 * MARGIN, system.height() + 2.0 * MARGIN);
    let moved =
        |mark: &sinistra_score::sheet::engrave::Mark| mark.moved(MARGIN, MARGIN - system.top);
    let marks = system.marks.iter().map(moved).collect();
    let mut page = svg::page(&Page { width, height, mm: MM, marks }, title);
    let x = MARGIN + system.x_of(at) + HEAD - BAND;
    let band = format!(
        "<rect class=\"asked\" x=\"{x:.2}\" y=\"0\" width=\"{:.2}\" height=\"{height:.2}\" \
         fill=\"#b9dfd2\"/>\n",
        2.0 * BAND
    );
    if let Some(music) = page.find("<g fill=\"#000\"") {
        page.insert_str(music, &band);
    }
    page
}
