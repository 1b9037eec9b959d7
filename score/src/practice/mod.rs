//! Practice: a target, a take, and the verdict that teaches.

mod align;
mod diary;
mod exercise;
mod figures;
mod fold;
pub mod ladder;
mod manner;
mod progress;
mod round;
mod rule;
pub mod steps;
mod take;
mod target;
mod tolerance;
mod touch;
mod verdict;
mod whole;
mod words;

pub use super::performance::HandNote;
pub use crate::count::{Count, Syllable};
pub use align::{TakeClock, TakeReference, comparable};
pub use diary::{Diary, DiaryRound};
pub use exercise::Exercise;
pub use figures::{Figures, HandToHand, NoteTally, Row};
pub use manner::Manner;
pub use progress::{ExerciseProgress, Progress, lesson_name};
pub use round::{Hands, Plan, Round, RoundStage, Task, ToldVerdict, round, tell};
pub use rule::{Rule, RulePlace, judge_rule};
pub use take::{Take, TakeStroke};
pub use target::{Hand, Target, TargetNote};
pub use tolerance::Tolerance;
pub use touch::Touch;
pub use verdict::{Extra, NoteVerdict, Outcome, Verdict, judge};
pub use whole::Whole;
pub use words::{TeacherWords, words};
