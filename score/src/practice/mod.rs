//! Practice: a target, a take, and the verdict that teaches.

mod align;
mod count;
mod exercise;
mod figures;
mod fold;
pub mod ladder;
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
pub use align::{Beat, Clock, comparable};
pub use count::{Count, Part};
pub use exercise::Exercise;
pub use figures::{Figures, HandToHand, Row, Tally};
pub use progress::{Entry, Progress, lesson_name};
pub use round::{Hands, Plan, Round, Stage, Task, Told, round, tell};
pub use rule::{Rule, RulePlace, judge_rule};
pub use take::{Stroke, Take};
pub use target::{Hand, Target, TargetNote};
pub use tolerance::Tolerance;
pub use touch::Touch;
pub use verdict::{Extra, NoteVerdict, Outcome, Verdict, judge};
pub use whole::Whole;
pub use words::{Words, words};
