//! How far the learner is.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::{Diary, DiaryRound, Exercise, Hands, Plan};
use crate::chart::key_name;

/// Everything that is remembered. Serialised, it is the learner's progress file: the
/// program and the page read each other's.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Progress {
    /// The form of this file.
    version: u32,
    /// By exercise.
    exercises: BTreeMap<String, ExerciseProgress>,
    /// Round by round.
    #[serde(default)]
    diary: Diary,
}

/// How far one exercise is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct ExerciseProgress {
    /// Felt beats a minute at which it is practised now.
    pub tempo: f64,
    /// The fastest clean round so far, felt beats a minute.
    pub cleanest: f64,
    /// Rounds played.
    pub rounds: u32,
    /// Clean ones among them.
    pub clean: u32,
    /// Seconds since 1970 of the last round.
    pub last: u64,
}

/// The form that is written.
const VERSION: u32 = 1;

impl Progress {
    /// Nothing remembered yet.
    #[must_use]
    pub fn new() -> Self {
        Self { version: VERSION, ..Self::default() }
    }

    /// Whether a newer version wrote it.
    #[must_use]
    pub fn is_newer(&self) -> bool {
        self.version > VERSION
    }

    /// How far an exercise is.
    #[must_use]
    pub fn of(&self, exercise: &str) -> Option<&ExerciseProgress> {
        self.exercises.get(exercise)
    }

    /// Rounds played of an exercise, and the clean ones among them.
    #[must_use]
    pub fn rounds(&self, exercise: &str) -> (u32, u32) {
        self.of(exercise).map_or((0, 0), |entry| (entry.rounds, entry.clean))
    }

    /// Notes a round that ended `now`, in seconds since 1970.
    pub fn note(&mut self, exercise: &str, tempo: f64, clean: bool, next_tempo: f64, now: u64) {
        self.version = VERSION;
        let entry = self.exercises.entry(exercise.to_owned()).or_default();
        entry.rounds = entry.rounds.saturating_add(1);
        if clean {
            entry.clean = entry.clean.saturating_add(1);
            entry.cleanest = entry.cleanest.max(tempo);
        }
        entry.tempo = next_tempo;
        entry.last = now;
        self.diary.note(DiaryRound { at: now, exercise: exercise.to_owned(), tempo, clean });
    }

    /// Round by round.
    #[must_use]
    pub fn diary(&self) -> &Diary {
        &self.diary
    }

    /// A line an exercise.
    pub fn lines(&self) -> Vec<String> {
        let line = |(name, e): (&String, &ExerciseProgress)| {
            let ExerciseProgress { tempo, cleanest, rounds, clean, .. } = e;
            format!(
                "{name}: {clean} of {rounds} rounds clean, best {cleanest:.0}, now at {tempo:.0}"
            )
        };
        self.exercises.iter().map(line).collect()
    }
}

/// The name under which progress is kept.
#[must_use]
pub fn lesson_name(exercise: &Exercise, plan: &Plan) -> String {
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
    let (title, key) = (exercise.title(), key_name(exercise.key.key()));
    format!("{title} in {key}, {}, {hands}{free}{bars}", exercise.pattern)
}
