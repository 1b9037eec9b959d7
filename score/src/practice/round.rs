//! One round: what the machine plays, and what the player is to play.

use serde::{Deserialize, Serialize};

use super::{
    Exercise, FreeRule, Hand, HandNote, Take, TakeReference, TakeStroke, Target, TeacherWords,
    Verdict, judge, judge_rule, words,
};
use sinistra_core::engine::Message;
use sinistra_core::pitch::KeyNumber;
use sinistra_core::time::{Metre, Ticks};

/// What happens in a round.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum RoundStage {
    /// The machine plays, the player listens.
    #[default]
    Hear,
    /// The machine plays the right hand, the player the left.
    Together,
    /// The player plays; only the metronome helps.
    Alone,
    /// The player is waited for, note by note.
    Wait,
}

impl RoundStage {
    /// In a word or two.
    pub const fn said(self) -> &'static str {
        match self {
            Self::Hear => "listen",
            Self::Together => "together",
            Self::Alone => "you alone",
            Self::Wait => "step by step",
        }
    }

    /// On its button.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Hear => "Hear",
            Self::Together => "Together",
            Self::Alone => "Alone",
            Self::Wait => "Wait for me",
        }
    }
}

/// Which hands are practised.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Hands {
    /// The left alone
    #[default]
    Left,
    /// The right alone
    Right,
    /// Both
    Both,
}

/// How loud the machine is beside the player, in percent.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Mix {
    /// The metronome.
    pub metronome: u8,
    /// The hands that it plays.
    pub music: u8,
}

impl Default for Mix {
    fn default() -> Self {
        Self { metronome: 100, music: 100 }
    }
}

impl Mix {
    /// As loud as it can be made, in percent.
    pub const MOST: u8 = 130;

    /// A velocity at so many percent; none at all at 0.
    fn of(velocity: u8, percent: u8) -> Option<u8> {
        let scaled = u32::from(velocity) * u32::from(percent.min(Self::MOST)) / 100;
        (percent > 0).then(|| scaled.clamp(1, 127) as u8)
    }

    /// As loud as the music is to be.
    #[must_use]
    pub fn music(self, velocity: u8) -> Option<u8> {
        Self::of(velocity, self.music)
    }
}

/// What is practised, and how.
#[derive(Clone, Copy, Debug)]
pub struct Plan {
    /// Printed bars, first and last.
    pub bars: (i64, i64),
    /// Who is the player.
    pub hands: Hands,
    /// Any left hand by the rule counts.
    pub free: bool,
    /// Keys from here on belong to the right hand.
    pub split: KeyNumber,
    /// What the sound and the keyboard add between beat and stroke, ms.
    pub delay_ms: f64,
    /// How loud the machine is.
    pub mix: Mix,
}

impl Default for Plan {
    /// The left hand, all bars, split at middle C.
    fn default() -> Self {
        Self {
            bars: (i64::MIN, i64::MAX),
            hands: Hands::Left,
            free: false,
            split: KeyNumber::MIDDLE_C,
            delay_ms: 0.0,
            mix: Mix::default(),
        }
    }
}

/// A round, ready to be played.
#[derive(Clone, Debug)]
pub struct Round {
    /// What the machine plays: milliseconds from the start, in order.
    pub events: Vec<(f64, Message)>,
    /// When it ends.
    pub end_ms: f64,
    /// When tick 0 of the song is, or would be, ms.
    pub origin_ms: f64,
    /// Quarter notes a minute.
    pub tempo: f64,
    /// The bars' first tick, and the tick after their last.
    pub span: (Ticks, Ticks),
    /// When the beats of the count-in are, ms.
    pub count_in: Vec<f64>,
    /// What the player is to play, and on which clock; nothing in `Hear`.
    pub task: Option<(Task, TakeReference)>,
}

/// What is asked of the player.
#[derive(Clone, Debug)]
pub enum Task {
    /// These notes.
    Line(Target),
    /// Whatever the rule allows.
    Free(FreeRule),
}

/// General MIDI percussion (channel 10), high and low wood block, and for the
/// "ands" the side stick.
const DRUMS: u8 = 9;
const BAR: (u8, u8) = (76, 96);
const BEAT: (u8, u8) = (77, 80);
const AND: (u8, u8) = (37, 48);

/// Silence before the count-in, ms.
const LEAD_MS: f64 = 600.0;
/// A wait for late strokes at the end, ms.
const TAIL_MS: f64 = 700.0;

/// A message and when it is played, in milliseconds.
type RoundEvent = (f64, Message);

/// The metronome: `count_in` by its own time, then every beat of the round, and the "ands"
/// while the machine plays.
fn clicks(
    exercise: &Exercise,
    plan: &Plan,
    stage: RoundStage,
    (count_in, places, to): (&[Ticks], &[(Ticks, bool)], Ticks),
    (period, ms): (f64, &impl Fn(Ticks) -> f64),
) -> Vec<RoundEvent> {
    let mut events = Vec::new();
    let mut click = |at_ms: f64, (key, velocity): (u8, u8)| {
        let key = KeyNumber::clamped(i32::from(key));
        let Some(velocity) = Mix::of(velocity, plan.mix.metronome) else { return };
        events.push((at_ms, Message::On { channel: DRUMS, key, velocity }));
        events.push((at_ms + 40.0, Message::off(DRUMS, key)));
    };
    for (n, at) in count_in.iter().rev().skip(1).rev().enumerate() {
        click(LEAD_MS + at.0 as f64 * period, if n == 0 { BAR } else { BEAT });
    }
    for (at, is_line) in places {
        click(ms(*at), if *is_line { BAR } else { BEAT });
    }
    if stage != RoundStage::Alone {
        let ends = places.iter().skip(1).map(|place| place.0).chain([to]);
        for (here, next) in places.iter().map(|place| place.0).zip(ends) {
            let and = here + Ticks((next - here).0 / 2);
            click(ms(exercise.swung(and)), AND);
        }
    }
    events
}

/// What the machine plays of the bars from `from` to `to`.
fn music(
    exercise: &Exercise,
    plan: &Plan,
    stage: RoundStage,
    (from, to): (Ticks, Ticks),
    ms: &impl Fn(Ticks) -> f64,
) -> Vec<RoundEvent> {
    use RoundStage::{Alone, Hear, Together, Wait};
    let mut events = Vec::new();
    let plays = |hand: Hand| match (stage, plan.hands, hand) {
        (Hear | Wait, Hands::Both, _) => true,
        (Hear | Wait, Hands::Left, hand) => hand == Hand::Left,
        (Hear | Wait, Hands::Right, hand) => hand == Hand::Right,
        (Together, Hands::Left | Hands::Both, hand) => hand == Hand::Right,
        (Together, Hands::Right, hand) => hand == Hand::Left,
        (Alone, ..) => false,
    };
    for (hand, notes) in [(Hand::Left, &exercise.left), (Hand::Right, &exercise.right)] {
        if plays(hand) {
            let inside = |note: &&HandNote| (from..to).contains(&note.at);
            for note in notes.iter().filter(inside) {
                let key = note.key;
                let Some(velocity) = plan.mix.music(note.velocity) else { continue };
                let (on, off) = (note.sounds.0, note.sounds.1.min(to));
                events.push((ms(on), Message::On { channel: 0, key, velocity }));
                events.push((ms(off), Message::off(0, key)));
            }
        }
    }
    events
}

/// An end before a start at the same time, so that a key can be struck again.
fn sort(events: &mut [RoundEvent]) {
    let rank = |message: &Message| u8::from(matches!(message, Message::On { .. }));
    events.sort_by(|a, b| a.0.total_cmp(&b.0).then(rank(&a.1).cmp(&rank(&b.1))));
}

impl Round {
    /// The round as it was played, to be heard: `take` beside the metronome and the
    /// machine's hand. What sound and keyboard add between beat and stroke is taken away.
    #[must_use]
    pub fn replayed(&self, take: &Take) -> Self {
        let delay_ms = match self.task {
            Some((_, TakeReference::Metronome { start_ms, .. })) => start_ms - self.origin_ms,
            _ => 0.0,
        };
        let mut events = self.events.clone();
        for &TakeStroke { at_ms, until_ms, key, velocity } in take.strokes() {
            events.push((at_ms - delay_ms, Message::On { channel: 0, key, velocity }));
            events.push((until_ms - delay_ms, Message::off(0, key)));
        }
        sort(&mut events);
        Self { events, task: None, ..self.clone() }
    }
}

/// Writes a round out at `tempo` quarter notes a minute.
pub fn round(exercise: &Exercise, plan: &Plan, stage: RoundStage, tempo: f64) -> Round {
    use RoundStage::{Alone, Together};
    let (from, to) = exercise.span(plan.bars.0, plan.bars.1);
    let period = 60_000.0 / (tempo * Ticks::PER_BEAT as f64);
    let places: Vec<_> = exercise.beats(from, to);
    let count_in = exercise.count_in(from);
    let start_ms = LEAD_MS + count_in.last().map_or(0.0, |end| end.0 as f64 * period);
    let ms = |at: Ticks| start_ms + (at - from).0 as f64 * period;
    let mut events = clicks(exercise, plan, stage, (&count_in, &places, to), (period, &ms));
    events.extend(music(exercise, plan, stage, (from, to), &ms));
    sort(&mut events);
    let beat = TakeReference::Metronome {
        start_ms: start_ms - from.0 as f64 * period + plan.delay_ms,
        tempo,
    };
    let is_judged = matches!(stage, Together | Alone);
    let task = is_judged.then(|| (task(exercise, plan, stage, tempo, (from, to)), beat));
    let mut count_in: Vec<f64> = count_in.iter().map(|at| LEAD_MS + at.0 as f64 * period).collect();
    count_in.pop(); // the bar line that it leads to
    Round {
        events,
        end_ms: ms(to) + TAIL_MS,
        origin_ms: start_ms - from.0 as f64 * period,
        tempo,
        span: (from, to),
        count_in,
        task,
    }
}

fn task(
    exercise: &Exercise,
    plan: &Plan,
    stage: RoundStage,
    tempo: f64,
    (from, to): (Ticks, Ticks),
) -> Task {
    if plan.free && plan.hands == Hands::Left {
        let mut rule = exercise.rule(tempo, plan.split);
        rule.places.retain(|place| (from..to).contains(&place.model.at));
        return Task::Free(rule);
    }
    let target = exercise.target(tempo).between(from, to);
    Task::Line(match (plan.hands, stage) {
        (Hands::Left, _) | (Hands::Both, RoundStage::Together) => target.of_hand(Hand::Left),
        (Hands::Right, _) => target.of_hand(Hand::Right),
        (Hands::Both, _) => target,
    })
}

/// A verdict with its words.
pub struct ToldVerdict {
    /// What was found.
    pub verdict: Verdict,
    /// What a teacher would say.
    pub words: TeacherWords,
}

/// Judges a take; `None` if nothing was played.
pub fn tell(task: &Task, take: &Take, beat: TakeReference) -> Option<ToldVerdict> {
    let (target, verdict) = match task {
        Task::Line(target) => (target.clone(), judge(target, take, beat)?),
        Task::Free(rule) => {
            let notes = rule.places.iter().map(|place| place.model).collect();
            let metre = Metre::COMMON;
            let target = Target::new(notes, rule.key, rule.tempo, metre);
            (target, judge_rule(rule, take, beat)?)
        }
    };
    let words = words(&target, &verdict);
    Some(ToldVerdict { verdict, words })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Chart, find_pattern};
    use sinistra_core::engine::Settings;

    #[test]
    fn metronome_and_music_have_a_loudness_each() {
        let chart = Chart::read("two", "key: C\nmetre: 4/4\ntempo: 90\n\n| C | Am |\n").unwrap();
        let pattern = find_pattern("roots-on-the-beat").unwrap().compile().unwrap();
        let exercise = Exercise::new(&chart, pattern, Settings::default(), None);
        let loudest = |metronome, music| {
            let mix = Mix { metronome, music };
            let plan = Plan { bars: (1, 2), mix, ..Plan::default() };
            let round = round(&exercise, &plan, RoundStage::Together, 90.0);
            let of = |drums: bool| {
                let on = round.events.iter().filter_map(|(_, message)| match message {
                    Message::On { channel, velocity, .. } if (*channel == DRUMS) == drums => {
                        Some(*velocity)
                    }
                    _ => None,
                });
                on.max()
            };
            (of(true), of(false))
        };
        let (click, chord) = loudest(100, 100);
        assert_eq!(click, Some(BAR.1));
        assert_eq!(loudest(0, 100), (None, chord));
        assert_eq!(loudest(100, 0), (click, None));
        let (quiet, soft) = loudest(50, 50);
        assert!(quiet < click && soft < chord && soft > Some(1));
    }

    #[test]
    fn what_was_played_is_heard_again_beside_what_the_machine_played() {
        let chart = Chart::read("two", "key: C\nmetre: 4/4\ntempo: 90\n\n| C | Am |\n").unwrap();
        let pattern = find_pattern("roots-on-the-beat").unwrap().compile().unwrap();
        let exercise = Exercise::new(&chart, pattern, Settings::default(), None);
        let plan = Plan { delay_ms: 20.0, ..Plan::default() };
        let asked = round(&exercise, &plan, RoundStage::Together, 90.0);
        let key = KeyNumber::clamped(41);
        let late = asked.origin_ms + 20.0 + 70.0;
        let stroke = TakeStroke { at_ms: late, until_ms: late + 200.0, key, velocity: 55 };
        let again = asked.replayed(&Take::new(vec![stroke]));
        assert!(again.task.is_none() && again.events.len() == asked.events.len() + 2);
        let struck = Message::On { channel: 0, key, velocity: 55 };
        let of_key: Vec<_> =
            again.events.iter().filter(|(_, message)| *message == struck).collect();
        assert_eq!(of_key[0].0, asked.origin_ms + 70.0);
        assert!(again.events.is_sorted_by(|a, b| a.0 <= b.0));
    }
}
