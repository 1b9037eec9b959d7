//! *Wait for me*: time stands until what is asked next has been struck.

use super::{Exercise, Hand, HandNote, Hands, Plan, TargetNote};
use crate::wording;
use sinistra_core::key::WrittenKey;
use sinistra_core::pitch::KeyNumber;
use sinistra_core::play::Role;
use sinistra_core::time::Ticks;

/// Notes closer than this, at the exercise's tempo, are asked for together, ms: a
/// rolled stroke is one step.
const TOGETHER_MS: f64 = 120.0;

/// What is asked for at one moment.
#[derive(Clone, Debug, PartialEq)]
pub struct WaitStep {
    /// The moment.
    pub at: Ticks,
    /// The keys, and what each is to its chord.
    pub keys: Vec<(KeyNumber, Option<Role>)>,
    /// What the other hand strikes by then, and until when: heard with the step.
    pub beside: Vec<HandNote>,
}

/// The machine's hand beside a player who is waited for: what of it rings.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct BesideHand(Vec<HandNote>);

impl BesideHand {
    /// It goes on to a step that is done: the keys that it lets go, then what it strikes.
    pub fn go_to(&mut self, step: &WaitStep) -> (Vec<KeyNumber>, Vec<HandNote>) {
        let (ended, on): (Vec<_>, Vec<_>) =
            self.0.drain(..).partition(|note| note.sounds.1 <= step.at);
        self.0 = on;
        self.0.extend(&step.beside);
        (ended.iter().map(|note| note.key).collect(), step.beside.clone())
    }
}

/// What is said once all has been struck, by the keys that were not asked for.
#[must_use]
pub fn waited(slips: usize) -> String {
    match slips {
        0 => "Every note at the first try. Now with the beat.".into(),
        1 => "One key beside the way. Now with the beat.".into(),
        _ => format!("{slips} keys beside the way: once more, or now with the beat."),
    }
}

/// What a stroke was.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WaitStroke {
    /// Not asked for.
    Wrong,
    /// One of those asked for; others are still to come.
    Part,
    /// All that was asked for is there: time goes on.
    Done,
}

/// Where a player is who is waited for.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Waiting {
    steps: Vec<WaitStep>,
    next: usize,
    struck: Vec<KeyNumber>,
    wrong: Option<KeyNumber>,
    slips: usize,
}

impl Waiting {
    /// Asks for the planned hands' notes of the planned bars, moment by moment.
    #[must_use]
    pub fn new(exercise: &Exercise, plan: &Plan) -> Self {
        let (from, to) = exercise.span(plan.bars.0, plan.bars.1);
        let target = exercise.target(exercise.tempo).between(from, to);
        let mine = |note: &&TargetNote| match plan.hands {
            Hands::Left => note.hand == Hand::Left,
            Hands::Right => note.hand == Hand::Right,
            Hands::Both => true,
        };
        let together = Ticks::of_ms(TOGETHER_MS, exercise.tempo);
        let mut steps: Vec<WaitStep> = Vec::new();
        for note in target.notes().iter().filter(mine) {
            match steps.last_mut() {
                Some(step) if note.at - step.at < together => {
                    if !step.keys.iter().any(|(key, _)| *key == note.key) {
                        step.keys.push((note.key, note.role));
                    }
                }
                _ => steps.push(WaitStep {
                    at: note.at,
                    keys: vec![(note.key, note.role)],
                    beside: Vec::new(),
                }),
            }
        }
        let others = match plan.hands {
            Hands::Left => exercise.notes(Hand::Right),
            Hands::Right => exercise.notes(Hand::Left),
            Hands::Both => &[],
        };
        let mut before = from - Ticks(1);
        for step in &mut steps {
            let sounds = |note: &&HandNote| {
                before < note.sounds.0 && note.sounds.0 <= step.at && step.at < note.sounds.1
            };
            step.beside = others.iter().filter(sounds).copied().collect();
            before = step.at;
        }
        Self { steps, ..Self::default() }
    }

    /// What is asked for now; `None` at the end.
    #[must_use]
    pub fn step(&self) -> Option<&WaitStep> {
        self.steps.get(self.next)
    }

    /// Keys that are asked for now and have not been struck.
    pub fn missing(&self) -> impl Iterator<Item = (KeyNumber, Option<Role>)> + '_ {
        let keys = self.step().map_or(&[][..], |step| &step.keys);
        keys.iter().filter(|(key, _)| !self.struck.contains(key)).copied()
    }

    /// A key was struck.
    pub fn strike(&mut self, key: KeyNumber) -> WaitStroke {
        let Some(step) = self.step() else { return WaitStroke::Wrong };
        if !step.keys.iter().any(|(asked, _)| *asked == key) {
            self.wrong = Some(key);
            self.slips += 1;
            return WaitStroke::Wrong;
        }
        self.wrong = None;
        if !self.struck.contains(&key) {
            self.struck.push(key);
        }
        if self.missing().next().is_some() {
            return WaitStroke::Part;
        }
        self.struck.clear();
        self.next += 1;
        WaitStroke::Done
    }

    /// Steps that are done, and all of them.
    #[must_use]
    pub fn done(&self) -> (usize, usize) {
        (self.next, self.steps.len())
    }

    /// Keys that were not asked for, so far.
    #[must_use]
    pub const fn slips(&self) -> usize {
        self.slips
    }

    /// What to play now; after a wrong key gently what that was.
    #[must_use]
    pub fn words(&self, key: WrittenKey) -> String {
        let name = |number: KeyNumber| wording::note(number, key.key());
        let missing: Vec<KeyNumber> = self.missing().map(|(key, _)| key).collect();
        let Some(nearest) = missing.iter().min_by_key(|key| match self.wrong {
            Some(wrong) => key.number().abs_diff(wrong.number()),
            None => 0,
        }) else {
            return "That is all of it".into();
        };
        let names: Vec<String> = missing.iter().map(|key| name(*key)).collect();
        let asked = names.join(" and ");
        let Some(wrong) = self.wrong else { return format!("{asked}, when you are ready") };
        let side = if *nearest > wrong { "higher" } else { "lower" };
        let far = match nearest.number().abs_diff(wrong.number()) {
            1 => "a half step",
            2 => "a step",
            3 | 4 => "a third",
            5 | 6 => "a fourth",
            7 => "a fifth",
            8 | 9 => "a sixth",
            10 | 11 => "a seventh",
            12 => "an octave",
            _ => "more than an octave",
        };
        format!("That was {}. {} is {far} {side}", name(wrong), name(*nearest))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Chart, find_pattern};
    use sinistra_core::engine::Settings;

    fn exercise(pattern: &str) -> Exercise {
        let text = "key: C\nmetre: 4/4\ntempo: 90\n\n| C | Am |\n";
        let chart = Chart::read("two", text).unwrap();
        let pattern = find_pattern(pattern).unwrap().compile().unwrap();
        Exercise::new(&chart, pattern, Settings::default(), None)
    }

    fn first(waiting: &Waiting) -> Option<KeyNumber> {
        waiting.missing().next().map(|(key, _)| key)
    }

    fn plan(hands: Hands) -> Plan {
        Plan { hands, ..Plan::default() }
    }

    #[test]
    fn time_stands_until_the_note_is_right() {
        let exercise = exercise("roots-on-the-beat");
        let mut waiting = Waiting::new(&exercise, &plan(Hands::Left));
        let (first, all) = (waiting.step().unwrap().clone(), waiting.done().1);
        assert_eq!((first.at, all), (Ticks::ZERO, exercise.notes(Hand::Left).len()));
        let key = first.keys[0].0;
        let wrong = KeyNumber::clamped(i32::from(key.number()) + 2);
        assert_eq!(waiting.strike(wrong), WaitStroke::Wrong);
        assert_eq!(waiting.step(), Some(&first));
        assert_eq!(waiting.words(exercise.key), "That was D3. C3 is a step lower");
        assert_eq!(waiting.strike(key), WaitStroke::Done);
        assert_eq!((waiting.done(), waiting.slips()), ((1, all), 1));
        assert_eq!(waiting.words(exercise.key), "C3, when you are ready");
        let mut beside = BesideHand::default();
        assert_eq!(beside.go_to(&first), (vec![], first.beside.clone()));
        let second = WaitStep { at: first.beside[0].sounds.1, ..first.clone() };
        let ended: Vec<_> = first.beside.iter().map(|note| note.key).collect();
        assert_eq!(beside.go_to(&second).0, ended);
        // The right hand's chord is heard with the first step, and only there.
        assert!(first.beside.len() >= 3);
        assert!(waiting.step().unwrap().beside.is_empty());
    }

    #[test]
    fn a_chord_may_be_struck_in_any_order_and_both_hands_are_one_step() {
        let exercise = exercise("octaves-together");
        let mut waiting = Waiting::new(&exercise, &plan(Hands::Both));
        let step = waiting.step().unwrap().clone();
        assert!(step.keys.len() >= 5 && step.beside.is_empty(), "{step:?}");
        for (n, (key, _)) in step.keys.iter().rev().enumerate() {
            let last = n + 1 == step.keys.len();
            assert_eq!(waiting.strike(*key) == WaitStroke::Done, last);
        }
        assert_eq!(waiting.done().0, 1);
        while let Some(key) = first(&waiting) {
            waiting.strike(key);
        }
        assert_eq!(waiting.done().0, waiting.done().1);
        assert_eq!(waiting.strike(step.keys[0].0), WaitStroke::Wrong);
    }
}
