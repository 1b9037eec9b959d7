//! What the practice window shows, and what it asks of the sitting.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use sinistra_core::pitch::KeyNumber;
use sinistra_core::time::Ticks;
use sinistra_score::practice::{
    Answer, Exercise, Hands, Mix, RoundStage, TakeStroke, TeacherWords, Verdict, Waiting,
};
use sinistra_score::sheet::Staff;
use sinistra_score::sheet::engrave::Engraver;

use crate::look;

/// Where the sitting is.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum SittingState {
    /// Before the first round.
    #[default]
    Ready,
    /// In a round.
    Playing,
    /// Between two rounds; this comes next.
    Waiting(RoundStage),
    /// It is over; if a device or the disk failed, why.
    Over(Option<String>),
}

/// A lesson, written out.
pub struct LessonPage {
    /// Piece, key, pattern and hands.
    pub name: String,
    /// Felt beats a minute to reach.
    pub goal: f64,
    /// What is practised.
    pub exercise: Exercise,
    /// The same as it is drawn, repeats written out.
    pub engraver: Engraver<'static>,
    /// The staves of the hands that the player practises.
    pub staves: &'static [Staff],
}

/// The clock of the round that is being played, or was played last.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RoundClock {
    /// The time in the round, ms.
    pub now_ms: f64,
    /// When tick 0 of the song is, or would be, ms.
    pub origin_ms: f64,
    /// What the sound and the keyboard add to strokes, ms.
    pub delay_ms: f64,
    /// Quarter notes a minute.
    pub tempo: f64,
    /// The first tick that is played, and the tick after the last.
    pub span: (Ticks, Ticks),
    /// When the beats of the count-in are, ms.
    pub count_in: Arc<[f64]>,
}

impl RoundClock {
    /// The moment in the song at `ms` of the round.
    #[must_use]
    pub fn ticks(&self, ms: f64) -> Ticks {
        Ticks::of_ms(ms - self.origin_ms, self.tempo)
    }
}

/// The verdict on a round, and its words.
#[derive(Clone, Debug)]
pub struct JudgedRound {
    /// What was found.
    pub verdict: Verdict,
    /// What a teacher would say.
    pub words: TeacherWords,
}

/// What the player wants to practise.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Pick {
    /// The slug of a chart that ships, or a file's path.
    pub chart: String,
    /// The slug of a pattern, or a file's path.
    pub pattern: String,
    /// The key's name; `None` is the chart's own.
    pub key: Option<String>,
    /// Whose part is theirs.
    pub hands: Hands,
    /// Any left hand that keeps to the rule counts.
    pub free: bool,
    /// Felt beats a minute to reach; `None` is the chart's tempo.
    pub goal: Option<f64>,
}

/// Something that can be chosen.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ChoiceCard {
    /// How the command line names it.
    pub slug: String,
    /// For people.
    pub name: String,
    /// What it adds.
    pub about: String,
}

/// Something in a folder.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FolderEntry {
    /// Its name.
    pub name: String,
    /// Where it is.
    pub path: PathBuf,
    /// Whether it is a folder itself; else it is a chart.
    pub is_folder: bool,
}

/// What there is to choose from.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Shelf {
    /// In teaching order.
    pub patterns: Vec<ChoiceCard>,
    /// Those that ship, the easiest first.
    pub charts: Vec<ChoiceCard>,
    /// Around the circle of fifths.
    pub keys: Vec<String>,
}

/// Everything there is to show; copied for each frame.
#[derive(Clone, Default)]
pub struct RoomScene {
    /// What is practised.
    pub lesson: Option<Arc<LessonPage>>,
    /// How that was chosen.
    pub pick: Pick,
    /// What else there is.
    pub shelf: Arc<Shelf>,
    /// Who plays now, or played last.
    pub act: RoundStage,
    /// Where the sitting is.
    pub state: SittingState,
    /// Felt beats a minute.
    pub tempo: f64,
    /// Rounds played of this exercise, and the clean ones among them.
    pub rounds: (u32, u32),
    /// Only these printed bars.
    pub bars: Option<(i64, i64)>,
    /// The round's clock.
    pub clock: RoundClock,
    /// What was played in it so far.
    pub strokes: Arc<Vec<TakeStroke>>,
    /// They are heard again: the machine plays them.
    pub replays: bool,
    /// Where a player is who is waited for.
    pub waiting: Option<Arc<Waiting>>,
    /// The keys that are down meanwhile, a bit each.
    pub down: u128,
    /// The verdict on the last round.
    pub judged: Option<Arc<JudgedRound>>,
    /// What else is to be said, newest last.
    pub said: Vec<String>,
    /// What is missing: a keyboard, a sound.
    pub missing: Vec<String>,
    /// A break is due.
    pub rest: bool,
}

impl RoomScene {
    /// Whether a wish makes sense now.
    pub fn may(&self, wish: Answer) -> bool {
        let playing = self.state == SittingState::Playing;
        match (&self.state, wish) {
            (SittingState::Over(_), _) => false,
            (_, Answer::Stop) => playing,
            (_, Answer::Replay) => !playing && self.judged.is_some(),
            // While the player plays, only the round's end says what is next.
            (SittingState::Playing, Answer::On) => {
                matches!(self.act, RoundStage::Hear | RoundStage::Wait)
            }
            (SittingState::Ready, Answer::Again) => false,
            _ => true,
        }
    }
}

/// How the player likes to practise.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Preferences {
    /// How loud the machine is.
    pub mix: Mix,
    /// Whether breaks are recommended.
    pub breaks: bool,
    /// Whether it is said under the music why the left hand plays as it does.
    pub why: bool,
    /// The look of the window.
    pub look: look::LookChoice,
}

/// The sitting that opened the window. Called from the window's thread only;
/// nothing here waits for the thread that plays.
pub trait Studio {
    /// The sitting a moment ago.
    fn scene(&mut self) -> RoomScene;
    /// Tells it what the player wants.
    fn wish(&mut self, wish: Answer);
    /// Tells it what the player wants to practise.
    fn pick(&mut self, pick: Pick);
    /// A key of the computer's keyboard, played as a piano's.
    fn play_key(&mut self, key: KeyNumber, down: bool);
    /// What is in a folder to be chosen from: folders and charts. Empty if it cannot
    /// be looked at.
    fn folder(&self, path: &Path) -> Vec<FolderEntry>;
    /// The folder that is looked at first.
    fn first_folder(&self) -> PathBuf;
    /// Keeps what is practised as a chart, a pattern and a sheet; the sheet's path.
    ///
    /// # Errors
    /// What went wrong, for the player to read.
    fn keep(&mut self) -> Result<PathBuf, String>;
    /// What the player likes.
    fn preferences(&self) -> Preferences;
    /// Remembers it.
    fn prefer(&mut self, preferences: Preferences);
}
