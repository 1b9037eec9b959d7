//! A sitting at the keyboard: hear, together, alone, faster; one lesson after
//! another.

use sinistra_core::key::Key;
use sinistra_core::score::chart::key_name;
use sinistra_core::score::practice::{Exercise, Take};

use super::judge::{lines, tell};
use super::ladder::{Climb, Ladder};
use super::progress::Progress;
use super::round::{Hands, Plan, Round, Stage, round};
use super::steps;
use crate::failure::Failure;

/// What the player says between two rounds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Answer {
    /// Go on as proposed.
    On,
    /// The same once more.
    Again,
    /// Hear it first.
    Hear,
    /// A step slower.
    Slower,
    /// A step faster.
    Faster,
    /// The next lesson.
    Next,
    /// Enough for now.
    Enough,
}

/// Where it happens: sound, keyboard and screen, or a test.
pub trait Room {
    /// Plays a round and gives what the player played; `None` if the player
    /// stopped it.
    ///
    /// # Errors
    /// If a device fails.
    fn perform(&mut self, round: &Round) -> Result<Option<Take>, Failure>;
    /// A line on the screen.
    fn say(&mut self, line: &str);
    /// Waits for the player.
    fn ask(&mut self) -> Answer;
    /// Minutes since the sitting began.
    fn minutes(&self) -> f64;
}

/// What is practised.
#[derive(Clone, Debug, PartialEq)]
pub struct Lesson {
    /// A pattern's name on the command line.
    pub pattern: String,
    /// The key.
    pub key: Key,
}

/// The rules of a sitting.
pub struct Sitting<'a> {
    /// Writes a lesson out.
    pub make: &'a dyn Fn(&Lesson) -> Result<Exercise, Failure>,
    /// Bars, hands, freedom. Bars beyond the last mean all.
    pub plan: Plan,
    /// Felt beats a minute to reach; `None` is the song's tempo.
    pub goal: Option<f64>,
    /// Around the circle of fifths instead of on to the next pattern.
    pub circle: bool,
    /// Whether breaks are recommended.
    pub breaks: bool,
    /// Called after every judged round, to keep what was reached.
    pub keep: &'a dyn Fn(&Progress) -> Result<(), Failure>,
}

/// A break is due after so many minutes (common practice of music-medicine
/// advice: five minutes off in every half hour or so; ours is on the safe side).
const BREAK_MINUTES: f64 = 25.0;

const CAUTION: &str = "Start quietly. Stop if anything hurts; a teacher's advice outranks ours.";

const CHOICES: &str = "Enter: go on · a again · h hear · s slower · f faster · n next · q enough";

impl Sitting<'_> {
    /// Until the player has had enough.
    ///
    /// # Errors
    /// If a device or the disk fails, or a lesson cannot be made.
    pub fn hold(
        &self,
        first: Lesson,
        progress: &mut Progress,
        room: &mut dyn Room,
    ) -> Result<(), Failure> {
        room.say(CAUTION);
        let mut next_break = BREAK_MINUTES;
        let mut lesson = Some(first);
        while let Some(now) = lesson.take() {
            lesson = self.teach(&now, progress, room, &mut next_break)?;
        }
        room.say("Until next time.");
        Ok(())
    }

    /// One lesson; gives the next, if the player wants it.
    fn teach(
        &self,
        lesson: &Lesson,
        progress: &mut Progress,
        room: &mut dyn Room,
        next_break: &mut f64,
    ) -> Result<Option<Lesson>, Failure> {
        let exercise = (self.make)(lesson)?;
        let felt = exercise.felt_beat();
        let goal = self.goal.unwrap_or(exercise.tempo / felt);
        let name = name(&exercise, &self.plan);
        let mut ladder = Ladder::new(goal, progress.of(&name).map(|entry| entry.tempo));
        room.say("");
        room.say(&format!("{name} — goal {goal:.0}"));
        room.say(&exercise.about);
        let mut stage = Stage::Hear;
        loop {
            let said = match stage {
                Stage::Hear => "listen",
                Stage::Together => "together",
                Stage::Alone => "you alone",
            };
            room.say(&format!("— {said}, tempo {:.0} —", ladder.tempo));
            let round = round(&exercise, &self.plan, stage, ladder.tempo * felt);
            let Some(take) = room.perform(&round)? else { return Ok(None) };
            let mut proposal = match &round.task {
                None => Stage::Together,
                Some((task, beat)) => {
                    let told = tell(task, &take, *beat);
                    let clean = told.as_ref().is_some_and(|told| told.verdict.is_clean());
                    match &told {
                        Some(told) => lines(told).iter().for_each(|line| room.say(line)),
                        None => room.say("Nothing of it was heard."),
                    }
                    let played = ladder.tempo;
                    let next = next_stage(stage, clean, &mut ladder, room);
                    progress.note(&name, played, clean, ladder.tempo);
                    (self.keep)(progress)?;
                    if next.is_none() {
                        self.praise(lesson, &exercise, room);
                    }
                    next.unwrap_or(Stage::Alone)
                }
            };
            if self.breaks && room.minutes() >= *next_break {
                *next_break = room.minutes() + BREAK_MINUTES;
                room.say("Time for a break: shake out your hands, walk about for five minutes.");
            }
            room.say(CHOICES);
            match room.ask() {
                Answer::On => {}
                Answer::Again => proposal = stage,
                Answer::Hear => proposal = Stage::Hear,
                Answer::Slower => ladder.slower(),
                Answer::Faster => ladder.faster(),
                Answer::Next => return Ok(self.after(lesson, &exercise)),
                Answer::Enough => return Ok(None),
            }
            stage = proposal;
        }
    }

    fn praise(&self, lesson: &Lesson, exercise: &Exercise, room: &mut dyn Room) {
        room.say("Clean at the goal.");
        match self.after(lesson, exercise) {
            Some(next) if self.circle => {
                room.say(&format!("Next (n): the same in {}.", key_name(next.key)));
            }
            Some(_) => {
                if let Some(step) = steps::after(&exercise.pattern) {
                    room.say(&format!("Next (n): {}. {}", step.name, step.about));
                }
            }
            None => room.say("That was the last step."),
        }
    }

    fn after(&self, lesson: &Lesson, exercise: &Exercise) -> Option<Lesson> {
        if self.circle {
            return Some(Lesson { key: steps::next_key(lesson.key), ..lesson.clone() });
        }
        let step = steps::after(&exercise.pattern)?;
        Some(Lesson { pattern: step.slug, ..lesson.clone() })
    }
}

/// What to do next, and at which tempo; `None` when the goal is reached.
fn next_stage(
    stage: Stage,
    clean: bool,
    ladder: &mut Ladder,
    room: &mut dyn Room,
) -> Option<Stage> {
    if stage == Stage::Together && clean {
        return Some(Stage::Alone);
    }
    match ladder.judge(clean) {
        Climb::Up => {
            room.say(&format!("Up to {:.0}.", ladder.tempo));
            Some(Stage::Alone)
        }
        Climb::Down => {
            room.say(&format!("Down to {:.0}, and together again.", ladder.tempo));
            Some(Stage::Together)
        }
        Climb::Stay => Some(stage),
        Climb::There => None,
    }
}

/// The name under which progress is kept.
fn name(exercise: &Exercise, plan: &Plan) -> String {
    let hands = match plan.hands {
        Hands::Left => "left hand",
        Hands::Right => "right hand",
        Hands::Both => "both hands",
    };
    let (first, last) = plan.bars;
    let bars = if first <= 1 && last >= exercise.last_bar() {
        String::new()
    } else {
        format!(", bars {first}\u{2013}{last}")
    };
    let free = if plan.free { ", free" } else { "" };
    let (title, key) = (exercise.title(), key_name(exercise.key));
    format!("{title} in {key}, {}, {hands}{free}{bars}", exercise.pattern)
}

#[cfg(test)]
mod tests;
