//! A sitting at the keyboard: hear, together, alone, faster; one lesson after
//! another.

use sinistra_core::key::WrittenKey;
use sinistra_score::chart::key_words;
use sinistra_score::pattern::PatternCard;
pub use sinistra_score::practice::Answer;
use sinistra_score::practice::ladder::{Climb, Ladder};
use sinistra_score::practice::{
    Exercise, Hands, Mix, Plan, Progress, Round, RoundStage, Take, Waiting, lesson_name, round,
    steps, tell,
};

use super::news::News;
use super::progress::now;
use crate::failure::Failure;

pub enum RoundEnd {
    /// To its end; this was played.
    Whole(Take),
    /// The player cut it short.
    Cut(Answer),
}

/// Where it happens: sound, keyboard and screen, or a test.
pub trait Room {
    /// Plays a round and gives what the player played.
    ///
    /// # Errors
    /// If a device fails.
    fn perform(&mut self, round: &Round) -> Result<RoundEnd, Failure>;
    /// Waits for the player, note by note, on the clock of `round`.
    ///
    /// # Errors
    /// If a device fails.
    fn wait_for(&mut self, waiting: &mut Waiting, round: &Round) -> Result<RoundEnd, Failure>;
    /// Plays what the player played, beside what was asked.
    ///
    /// # Errors
    /// If a device fails.
    fn replay(&mut self, round: &Round) -> Result<RoundEnd, Failure> {
        self.perform(round)
    }
    /// How loud the machine is to be.
    fn mix(&self) -> Mix {
        Mix::default()
    }
    /// Tells the player.
    fn tell(&mut self, news: &News<'_>);
    /// Waits for the player.
    fn ask(&mut self) -> Answer;
    /// Minutes since the sitting began.
    fn minutes(&self) -> f64;
    /// What the player picked to practise instead of `now`.
    fn picked(&mut self, _now: &Lesson) -> Option<Lesson> {
        None
    }
}

/// What is practised.
#[derive(Clone, Debug, PartialEq)]
pub struct Lesson {
    /// A chart's name on the command line.
    pub chart: String,
    /// A pattern's name on the command line.
    pub pattern: String,
    /// The key; `None` is the chart's.
    pub key: Option<WrittenKey>,
    /// Who is the player.
    pub hands: Hands,
    /// Any left hand by the rule counts.
    pub free: bool,
    /// Felt beats a minute to reach; `None` is the song's tempo.
    pub goal: Option<f64>,
}

/// The rules of a sitting.
pub struct Sitting<'a> {
    /// Writes a lesson out.
    pub make: &'a dyn Fn(&Lesson) -> Result<Exercise, Failure>,
    /// Bars of the first chart, split, delay. Bars beyond the last mean all.
    pub plan: Plan,
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
        room.tell(&News::Caution);
        let mut next_break = BREAK_MINUTES;
        let mut lesson = Some(first);
        let mut bars = self.plan.bars;
        while let Some(now) = lesson.take() {
            lesson = self.teach(&now, bars, progress, room, &mut next_break)?;
            if lesson.as_ref().is_some_and(|next| next.chart != now.chart) {
                bars = (i64::MIN, i64::MAX); // another chart has other bars
            }
        }
        room.tell(&News::Farewell);
        Ok(())
    }

    /// One lesson; gives the next, if the player wants it.
    fn teach(
        &self,
        lesson: &Lesson,
        bars: (i64, i64),
        progress: &mut Progress,
        room: &mut dyn Room,
        next_break: &mut f64,
    ) -> Result<Option<Lesson>, Failure> {
        let exercise = (self.make)(lesson)?;
        let goal = lesson.goal.unwrap_or(exercise.tempo / exercise.felt_beat());
        let Lesson { hands, free, .. } = *lesson;
        let mut plan = Plan { bars, hands, free, ..self.plan };
        let mut name = lesson_name(&exercise, &plan);
        let mut ladder = Ladder::new(goal, progress.of(&name).map(|entry| entry.tempo));
        let lesson_news =
            |name: &str, ladder: &Ladder, progress: &Progress, room: &mut dyn Room| {
                let (tempo, rounds) = (ladder.tempo, progress.rounds(name));
                let exercise = &exercise;
                room.tell(&News::Lesson { name, lesson, exercise, goal, tempo, rounds });
            };
        lesson_news(&name, &ladder, progress, room);
        let (mut stage, mut played) = (RoundStage::Hear, None);
        loop {
            plan.mix = room.mix();
            let named = (&*name, &mut ladder);
            let (ended, proposal) =
                self.round((lesson, &exercise, &plan), stage, named, progress, room, &mut played)?;
            let skips = matches!(stage, RoundStage::Hear | RoundStage::Wait);
            let choices = News::Choices(proposal, ladder.tempo);
            let mut answer = self.answer(ended, skips, &choices, next_break, room);
            if let Some(next) =
                self.picked(&mut answer, (lesson, played.as_ref()), &choices, room)?
            {
                return Ok(Some(next));
            }
            match answer {
                Answer::Slower => ladder.slower(),
                Answer::Faster => ladder.faster(),
                Answer::Loop(bars) => {
                    plan.bars = bars.unwrap_or((i64::MIN, exercise.last_bar()));
                    name = lesson_name(&exercise, &plan);
                    ladder = Ladder::new(goal, progress.of(&name).map(|entry| entry.tempo));
                    lesson_news(&name, &ladder, progress, room);
                    played = None;
                }
                Answer::Next => return Ok(self.after(lesson, &exercise)),
                Answer::Enough => return Ok(None),
                _ => {}
            }
            stage = answer.stage(stage, proposal);
        }
    }

    /// Follows what the player wants before the next round: another lesson, which is given
    /// back, or to hear what was `played`, as often as it is asked for.
    fn picked(
        &self,
        answer: &mut Answer,
        (lesson, played): (&Lesson, Option<&Round>),
        choices: &News<'_>,
        room: &mut dyn Room,
    ) -> Result<Option<Lesson>, Failure> {
        loop {
            match (*answer, played) {
                (Answer::Picked, _) => {
                    if let Some(next) = room.picked(lesson) {
                        match (self.make)(&next) {
                            Ok(_) => return Ok(Some(next)),
                            Err(why) => room.tell(&News::Refused(&why.to_string())),
                        }
                    }
                }
                (Answer::Replay, Some(played)) => match room.replay(played)? {
                    RoundEnd::Cut(cut) if cut != Answer::Stop => {
                        *answer = cut;
                        continue;
                    }
                    _ => {}
                },
                (Answer::Replay, None) => {}
                _ => return Ok(None),
            }
            room.tell(choices);
            *answer = room.ask();
        }
    }

    /// Plays a round and judges it; how it ended, and what to play next. What was
    /// `played` in it is kept to be heard.
    fn round(
        &self,
        (lesson, exercise, plan): (&Lesson, &Exercise, &Plan),
        stage: RoundStage,
        (name, ladder): (&str, &mut Ladder),
        progress: &mut Progress,
        room: &mut dyn Room,
        played: &mut Option<Round>,
    ) -> Result<(RoundEnd, RoundStage), Failure> {
        room.tell(&News::Round(stage, ladder.tempo, plan.bars));
        let round = round(exercise, plan, stage, ladder.tempo * exercise.felt_beat());
        if stage == RoundStage::Wait {
            return Ok((step_by_step(exercise, plan, &round, room)?, RoundStage::Together));
        }
        let ended = room.perform(&round)?;
        let RoundEnd::Whole(take) = &ended else { return Ok((ended, stage)) };
        let Some((task, beat)) = &round.task else { return Ok((ended, RoundStage::Together)) };
        *played = Some(round.replayed(take));
        let told = tell(task, take, *beat);
        let clean = told.as_ref().is_some_and(|told| told.verdict.is_clean());
        room.tell(&News::Verdict(told.as_ref()));
        let next = self.climb((stage, clean), (name, ladder), progress, room)?;
        if next.is_none() {
            room.tell(&News::There(&self.praise(lesson, exercise)));
        }
        room.tell(&News::Count(progress.rounds(name), ladder.tempo));
        Ok((ended, next.unwrap_or(RoundStage::Alone)))
    }

    /// What the player wants after a round; `skips`: it was one to be heard, or to find
    /// the notes in, which is over whenever the player has had enough of it.
    fn answer(
        &self,
        ended: RoundEnd,
        skips: bool,
        choices: &News<'_>,
        next_break: &mut f64,
        room: &mut dyn Room,
    ) -> Answer {
        match ended {
            RoundEnd::Cut(Answer::Stop) => {}
            RoundEnd::Cut(Answer::On) if skips => return Answer::Together,
            RoundEnd::Cut(answer) => return answer,
            RoundEnd::Whole(_) => {
                if self.breaks && room.minutes() >= *next_break {
                    *next_break = room.minutes() + BREAK_MINUTES;
                    room.tell(&News::Break);
                }
            }
        }
        room.tell(choices);
        room.ask()
    }

    /// What a judged round did to the tempo; gives what to play next, `None` at the goal.
    fn climb(
        &self,
        (stage, clean): (RoundStage, bool),
        (name, ladder): (&str, &mut Ladder),
        progress: &mut Progress,
        room: &mut dyn Room,
    ) -> Result<Option<RoundStage>, Failure> {
        let played = ladder.tempo;
        let (next, climb) = ladder.after(stage, clean);
        match climb {
            Climb::Up => room.tell(&News::Up(ladder.tempo)),
            Climb::Down => room.tell(&News::Down(ladder.tempo)),
            Climb::Stay | Climb::There => {}
        }
        progress.note(name, played, clean, ladder.tempo, now());
        (self.keep)(progress)?;
        Ok(next)
    }

    /// What comes after a clean round at the goal.
    fn praise(&self, lesson: &Lesson, exercise: &Exercise) -> String {
        match self.after(lesson, exercise) {
            Some(next) if self.circle => {
                let key = next.key.unwrap_or(exercise.key);
                format!("Next (n): the same in {}.", key_words(key))
            }
            Some(_) => PatternCard::after(&exercise.pattern).map_or_else(String::new, |step| {
                format!("Next (n): {}. {}", step.name, step.about)
            }),
            None => "That was the last step.".into(),
        }
    }

    fn after(&self, lesson: &Lesson, exercise: &Exercise) -> Option<Lesson> {
        if self.circle {
            let key = steps::next_key(lesson.key.unwrap_or(exercise.key).key());
            let key = Some(key.into());
            return Some(Lesson { key, ..lesson.clone() });
        }
        let step = PatternCard::after(&exercise.pattern)?;
        Some(Lesson { pattern: step.slug.to_owned(), ..lesson.clone() })
    }
}

/// Waits for the player through the bars, note by note.
fn step_by_step(
    exercise: &Exercise,
    plan: &Plan,
    round: &Round,
    room: &mut dyn Room,
) -> Result<RoundEnd, Failure> {
    let mut waiting = Waiting::new(exercise, plan);
    let ended = room.wait_for(&mut waiting, round)?;
    if matches!(ended, RoundEnd::Whole(_)) {
        room.tell(&News::Waited(waiting.slips()));
    }
    Ok(ended)
}

#[cfg(test)]
mod tests;
