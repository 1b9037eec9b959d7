//! Lessons: hear it, together, alone, and what was late.

use serde_json::{Value, json};
use sinistra_core::pitch::KeyNumber;
use sinistra_score::chart::key_name;
use sinistra_score::pattern::PatternCard;
use sinistra_score::practice::ladder::Ladder;
use sinistra_score::practice::{
    Exercise, Mix, NoteVerdict, Plan, Progress, RoundStage, Take, TakeReference, TakeStroke, Task,
    lesson_name, round, tell,
};

use super::make::{cues, kept, settings, svg_pages};
use super::wait::OpenWait;
use super::{Answered, Desk, Question, Trouble};

/// The lesson that is on.
pub struct OpenLesson {
    pub(super) exercise: Exercise,
    pub(super) plan: Plan,
    pub(super) waited: Option<OpenWait>,
    ladder: Ladder,
    stage: RoundStage,
    task: Option<(Task, TakeReference)>,
}

impl Desk {
    /// Writes a lesson out: its name, what it teaches, its sheet and its tempo.
    pub(super) fn lesson(&mut self, q: &Question) -> Answered {
        let chart = q.chart()?;
        let settings = settings(q, &chart);
        let exercise = Exercise::new(&chart, q.pattern()?, settings, Some(q.tempo(&chart)));
        let bars = q.bars.unwrap_or((i64::MIN, exercise.last_bar()));
        let plan = Plan {
            bars,
            hands: q.hands,
            free: q.free,
            split: settings.split,
            delay_ms: 0.0,
            mix: Mix::default(),
        };
        let name = lesson_name(&exercise, &plan);
        let progress = progress(&q.progress)?;
        let goal = exercise.tempo / exercise.felt_beat();
        let ladder = Ladder::new(goal, progress.of(&name).map(|entry| entry.tempo));
        let (rounds, clean) = progress.rounds(&name);
        let next = PatternCard::after(&exercise.pattern);
        let answer = json!({
            "name": name,
            "about": exercise.about,
            "goal": goal,
            "tempo": ladder.tempo,
            "rounds": rounds,
            "clean_rounds": clean,
            "last_bar": exercise.last_bar(),
            "key": key_name(exercise.key),
            "next": next.map(|s| json!({ "slug": s.slug, "name": s.name, "about": s.about })),
            "pages": svg_pages(&exercise.sheet(), &q.link),
            "musicxml": exercise.sheet().musicxml().0,
            "kept": kept(&exercise),
        });
        let stage = RoundStage::Hear;
        self.lesson = Some(OpenLesson { exercise, plan, waited: None, ladder, stage, task: None });
        Ok((answer, Vec::new()))
    }

    /// A round of the lesson: what the machine plays, and when the beats are.
    pub(super) fn round(&mut self, q: &Question) -> Answered {
        let lesson = self.lesson.as_mut().ok_or_else(no_lesson)?;
        lesson.stage = q.stage;
        let tempo = lesson.ladder.tempo;
        let quarters = tempo * lesson.exercise.felt_beat();
        let round = round(&lesson.exercise, &lesson.plan, lesson.stage, quarters);
        lesson.task = round.task;
        let answer = json!({
            "cues": cues(round.events.into_iter()),
            "end_ms": round.end_ms,
            "count_in": round.count_in,
            "tempo": tempo,
            "said": lesson.stage.said(),
        });
        Ok((answer, Vec::new()))
    }

    /// Judges what was played in the last round, and keeps it in the progress.
    pub(super) fn tell(&mut self, q: &Question) -> Answered {
        let lesson = self.lesson.as_mut().ok_or_else(no_lesson)?;
        let (task, beat) = lesson.task.as_ref().ok_or_else(no_lesson)?;
        let mut progress = progress(&q.progress)?;
        let strokes = q.strokes.iter().filter_map(|&(at_ms, until_ms, key, velocity)| {
            Some(TakeStroke { at_ms, until_ms, key: KeyNumber::new(key)?, velocity })
        });
        let told = tell(task, &Take::new(strokes.collect()), *beat);
        let clean = told.as_ref().is_some_and(|told| told.verdict.is_clean());
        let played = lesson.ladder.tempo;
        let (next, climb) = lesson.ladder.after(lesson.stage, clean);
        let name = lesson_name(&lesson.exercise, &lesson.plan);
        progress.note(&name, played, clean, lesson.ladder.tempo, q.now);
        let (rounds, clean_rounds) = progress.rounds(&name);
        let notes: Vec<_> =
            told.iter().flat_map(|told| &told.verdict.notes).map(told_note).collect();
        let answer = json!({
            "heard": told.is_some(),
            "clean": clean,
            "words": told.as_ref().map(|told| &told.words),
            "notes": notes,
            "next": next,
            "climb": climb,
            "tempo": lesson.ladder.tempo,
            "rounds": rounds,
            "clean_rounds": clean_rounds,
            "progress": serde_json::to_string_pretty(&progress).unwrap_or_default(),
        });
        Ok((answer, Vec::new()))
    }

    /// A step slower (below 0) or faster, by the player's own wish.
    pub(super) fn change_tempo(&mut self, q: &Question) -> Answered {
        let ladder = &mut self.lesson.as_mut().ok_or_else(no_lesson)?.ladder;
        if q.tempo < 0.0 {
            ladder.slower();
        } else {
            ladder.faster();
        }
        Ok((json!({ "tempo": ladder.tempo }), Vec::new()))
    }
}

fn told_note(note: &NoteVerdict) -> Value {
    json!({
        "bar": note.note.bar,
        "count": note.note.count.to_string(),
        "key": note.note.key.number(),
        "outcome": note.outcome,
        "late_ms": note.late_ms.map(f64::round),
    })
}

pub(super) fn no_lesson() -> Trouble {
    Trouble::Said("choose a lesson, and play a round of it, first".into())
}

/// The learner's progress, from the text of its file; an empty one is a new one.
fn progress(text: &str) -> Result<Progress, Trouble> {
    if text.trim().is_empty() {
        return Ok(Progress::new());
    }
    let read: Progress = serde_json::from_str(text).map_err(|error| {
        let (line, column) = (error.line(), error.column());
        Trouble::Said(format!("progress:{line}:{column}: not a progress file of Sinistra"))
    })?;
    if read.is_newer() {
        let what = "this progress was written by a newer version of Sinistra";
        return Err(Trouble::Said(what.into()));
    }
    Ok(read)
}
