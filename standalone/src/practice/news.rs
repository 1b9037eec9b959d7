//! What a sitting tells the player, for a terminal to print and a window to
//! show.

use sinistra_score::practice::{Exercise, RoundStage, ToldVerdict, waited};

use super::judge::lines;
use super::session::Lesson;

/// One piece of news.
pub enum News<'a> {
    /// Before the first round.
    Caution,
    /// A lesson begins.
    Lesson {
        /// Piece, key, pattern and hands.
        name: &'a str,
        /// How it was chosen.
        lesson: &'a Lesson,
        /// All of it.
        exercise: &'a Exercise,
        /// Felt beats a minute to reach.
        goal: f64,
        /// Felt beats a minute now.
        tempo: f64,
        /// Rounds played so far, and the clean ones among them.
        rounds: (u32, u32),
    },
    /// A round begins, at felt beats a minute, of these printed bars.
    Round(RoundStage, f64, (i64, i64)),
    /// All steps are done; so many keys were not asked for.
    Waited(usize),
    /// The verdict on it; `None` if nothing of it was heard.
    Verdict(Option<&'a ToldVerdict>),
    /// The tempo rose, to felt beats a minute.
    Up(f64),
    /// The tempo fell.
    Down(f64),
    /// What was picked cannot be practised, and why.
    Refused(&'a str),
    /// Clean at the goal; what comes next.
    There(&'a str),
    /// Rounds played so far, the clean ones, and the tempo.
    Count((u32, u32), f64),
    /// Time for a break.
    Break,
    /// What comes next if the player goes on, and at which tempo.
    Choices(RoundStage, f64),
    /// The sitting is over.
    Farewell,
}

const CAUTION: &str = "Start quietly. Stop if anything hurts; a teacher's advice outranks ours.";

const BREAK: &str = "Time for a break: shake out your hands, walk about for five minutes.";

const CHOICES: &str = "Enter: go on · a again · h hear · y hear yourself · w wait for me · s slower · f faster · n next · \
     k keep this chorus · q enough";

impl News<'_> {
    /// As a terminal prints it.
    pub fn lines(&self) -> Vec<String> {
        match self {
            News::Caution => vec![CAUTION.into()],
            News::Lesson { name, exercise, goal, .. } => {
                vec![String::new(), format!("{name} — goal {goal:.0}"), exercise.about.clone()]
            }
            News::Round(RoundStage::Wait, ..) => {
                vec!["— step by step: I wait for you —".into()]
            }
            News::Round(stage, tempo, _) => {
                vec![format!("— {}, tempo {tempo:.0} —", stage.said())]
            }
            News::Waited(slips) => vec![waited(*slips)],
            News::Verdict(Some(told)) => lines(told),
            News::Verdict(None) => vec!["Nothing of it was heard.".into()],
            News::Up(tempo) => vec![format!("Up to {tempo:.0}.")],
            News::Down(tempo) => vec![format!("Down to {tempo:.0}, and together again.")],
            News::Refused(why) => vec![(*why).to_owned()],
            News::There(next) => vec!["Clean at the goal.".into(), (*next).to_owned()],
            News::Count(..) => vec![],
            News::Break => vec![BREAK.into()],
            News::Choices(..) => vec![CHOICES.into()],
            News::Farewell => vec!["Until next time.".into()],
        }
    }
}
