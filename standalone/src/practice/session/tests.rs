//! A sitting without a keyboard: players that are good, bad, and learning.

#![allow(clippy::unwrap_used, reason = "a test that fails panics")]

use super::*;
use crate::scores;
use sinistra_core::engine::{KeyChoice, Message, Settings};
use sinistra_core::key::Key;
use sinistra_core::pitch::KeyNumber;
use sinistra_score::Chart;
use sinistra_score::practice::{TakeReference, TakeStroke, Task};

const CHART: &str = "title: Two Bars\nkey: C\nmetre: 4/4\ntempo: 100\n\n| C | Am |\n";

/// Plays every round the way `plays` says: how late, or not at all.
struct Stage0<'a> {
    plays: &'a dyn Fn(usize, usize) -> Option<f64>,
    answers: Vec<Answer>,
    rounds: usize,
    said: Vec<String>,
    picks: Vec<&'static str>,
}

impl Room for Stage0<'_> {
    fn perform(&mut self, round: &Round) -> Result<RoundEnd, Failure> {
        self.rounds += 1;
        let Some((Task::Line(target), TakeReference::Metronome { start_ms, tempo })) = &round.task
        else {
            return Ok(RoundEnd::Whole(Take::default()));
        };
        let strokes = target.notes().iter().enumerate().filter_map(|(index, note)| {
            let late = (self.plays)(self.rounds, index)?;
            let at_ms = start_ms + note.at.beats() * 60_000.0 / tempo + late;
            Some(TakeStroke { at_ms, until_ms: at_ms + 100.0, key: note.key, velocity: 70 })
        });
        Ok(RoundEnd::Whole(Take::new(strokes.collect())))
    }
    fn replay(&mut self, round: &Round) -> Result<RoundEnd, Failure> {
        let struck = |event: &&(f64, Message)| matches!(event.1, Message::On { velocity: 70, .. });
        self.said.push(format!("{} strokes again", round.events.iter().filter(struck).count()));
        Ok(RoundEnd::Whole(Take::default()))
    }
    fn wait_for(&mut self, waiting: &mut Waiting, _: &Round) -> Result<RoundEnd, Failure> {
        self.said.push(format!("{} steps", waiting.done().1));
        if let [Answer::Loop(_), ..] = self.answers[..] {
            return Ok(RoundEnd::Cut(self.answers.remove(0))); // picked while it waits
        }
        waiting.strike(KeyNumber::MIDDLE_C); // nobody asked for it
        let keys = |waiting: &Waiting| -> Vec<_> { waiting.missing().collect() };
        while let [(key, _), ..] = keys(waiting)[..] {
            waiting.strike(key);
        }
        Ok(RoundEnd::Whole(Take::default()))
    }
    fn tell(&mut self, news: &News<'_>) {
        self.said.extend(news.lines());
    }
    fn ask(&mut self) -> Answer {
        if self.answers.is_empty() { Answer::Enough } else { self.answers.remove(0) }
    }
    fn picked(&mut self, now: &Lesson) -> Option<Lesson> {
        Some(Lesson { pattern: self.picks.remove(0).into(), ..now.clone() })
    }
    fn minutes(&self) -> f64 {
        self.rounds as f64 * 10.0
    }
}

fn sit(
    plays: &dyn Fn(usize, usize) -> Option<f64>,
    answers: Vec<Answer>,
) -> (Vec<String>, Progress) {
    sit_and_pick(plays, answers, Vec::new())
}

/// The same, with patterns that the player picks.
fn sit_and_pick(
    plays: &dyn Fn(usize, usize) -> Option<f64>,
    answers: Vec<Answer>,
    picks: Vec<&'static str>,
) -> (Vec<String>, Progress) {
    let chart = Chart::read("two-bars", CHART).unwrap();
    let make = |lesson: &Lesson| {
        let pattern = scores::pattern(&lesson.pattern)?;
        let key = lesson.key.map_or(Key::C_MAJOR, WrittenKey::key);
        let chart = chart.transpose(key).unwrap();
        let settings = Settings { key: KeyChoice::Fixed(key), ..Settings::default() };
        Ok(Exercise::new(&chart, pattern, settings, None))
    };
    let sitting = Sitting {
        make: &make,
        plan: Plan {
            bars: (1, i64::MAX),
            hands: Hands::Left,
            free: false,
            split: KeyNumber::MIDDLE_C,
            delay_ms: 0.0,
            mix: Default::default(),
        },
        circle: true,
        breaks: true,
        keep: &|_| Ok(()),
    };
    let mut room = Stage0 { plays, answers, rounds: 0, said: Vec::new(), picks };
    let mut progress = Progress::default();
    let lesson = Lesson {
        chart: "two-bars".into(),
        pattern: "roots-on-the-beat".into(),
        key: None,
        hands: Hands::Left,
        free: false,
        goal: Some(70.0),
    };
    sitting.hold(lesson, &mut progress, &mut room).unwrap();
    (room.said, progress)
}

/// The lines that say what is played next and how fast.
fn course(said: &[String]) -> Vec<&str> {
    said.iter().filter(|line| line.starts_with('\u{2014}')).map(String::as_str).collect()
}

#[test]
fn a_clean_player_climbs_to_the_goal_and_on_around_the_circle() {
    let mut answers = vec![Answer::On; 9];
    answers.push(Answer::Next);
    let (said, progress) = sit(&|_, _| Some(3.0), answers);
    assert_eq!(
        course(&said)[..6],
        [
            "— listen, tempo 42 —",
            "— together, tempo 42 —",
            "— you alone, tempo 42 —",
            "— you alone, tempo 46 —",
            "— you alone, tempo 50 —",
            "— you alone, tempo 55 —",
        ]
    );
    assert!(said.iter().any(|line| line == "Clean at the goal."), "{said:#?}");
    assert!(said.iter().any(|line| line.contains("in G, Roots on the beat")), "{said:#?}");
    assert!(progress.lines()[0].contains("best 70"), "{:?}", progress.lines());
}

#[test]
fn two_bad_rounds_lead_down_and_together_again() {
    // Leaves out every other note in the rounds alone (from the third on).
    let (said, _) =
        sit(&|round, index| (round < 3 || index % 2 == 0).then_some(0.0), vec![Answer::On; 5]);
    assert_eq!(
        course(&said),
        [
            "— listen, tempo 42 —",
            "— together, tempo 42 —",
            "— you alone, tempo 42 —",
            "— you alone, tempo 42 —",
            "— together, tempo 38 —",
            "— together, tempo 38 —",
        ]
    );
    assert!(said.iter().any(|line| line.contains("missing")));
}

#[test]
fn cautions_come_first_and_a_break_is_called_in_time() {
    let (said, _) = sit(&|_, _| Some(0.0), vec![Answer::On; 4]);
    assert!(said[0].contains("Stop if anything hurts"));
    let breaks = said.iter().filter(|line| line.contains("break")).count();
    assert_eq!(breaks, 1); // rounds of ten minutes: due after the third of five
}

#[test]
fn what_is_picked_is_practised_and_what_cannot_be_is_refused() {
    let answers = vec![Answer::Picked, Answer::Picked, Answer::Enough];
    let picks = vec!["no-such-pattern", "roots-and-offbeats"];
    let (said, _) = sit_and_pick(&|_, _| Some(0.0), answers, picks);
    assert!(said.iter().any(|line| line.contains("no pattern `no-such-pattern`")), "{said:#?}");
    // Heard, refused, picked, heard again.
    assert_eq!(course(&said).len(), 2, "{said:#?}");
    let lessons = said.iter().filter(|line| line.contains("goal 70")).count();
    assert_eq!(lessons, 2, "{said:#?}");
}

#[test]
fn who_is_waited_for_plays_with_the_beat_next() {
    let answers = vec![Answer::Wait, Answer::Again, Answer::On, Answer::Enough];
    let (said, progress) = sit(&|_, _| Some(0.0), answers);
    let beside = "One key beside the way. Now with the beat.";
    assert_eq!(said.iter().filter(|line| *line == beside).count(), 2, "{said:?}");
    let after = said.iter().rposition(|line| line == beside).unwrap();
    assert!(said[after..].iter().any(|line| line.starts_with("— together")), "{said:?}");
    // Steps without a beat are no round.
    assert_eq!(progress.lines().len(), 1, "{:?}", progress.lines());
}

#[test]
fn bars_picked_while_the_room_waits_are_waited_through_next() {
    let answers = vec![Answer::Wait, Answer::Loop(Some((2, 2))), Answer::Loop(None)];
    let (said, _) = sit(&|_, _| Some(0.0), answers);
    let steps: Vec<_> = said.iter().filter(|line| line.ends_with(" steps")).collect();
    assert_eq!(steps, ["8 steps", "4 steps", "8 steps"], "{said:#?}");
}

#[test]
fn what_was_played_is_heard_again_as_often_as_is_asked_for() {
    let answers = vec![Answer::Replay, Answer::On, Answer::On, Answer::Replay, Answer::Replay];
    let (said, progress) = sit(&|_, index| (index != 3).then_some(0.0), answers);
    let again: Vec<_> = said.iter().filter(|line| line.ends_with("again")).collect();
    assert_eq!(again, ["7 strokes again", "7 strokes again"], "{said:#?}");
    assert!(progress.lines()[0].contains("of 2 rounds"), "{:?}", progress.lines());
}
