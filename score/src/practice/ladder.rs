//! The tempo ladder: up a step after a clean round, down after two bad ones.

use serde::Serialize;

use super::RoundStage;

/// Where practice stands between slow and the goal. Tempos are felt beats a
/// minute.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ladder {
    /// Now.
    pub tempo: f64,
    /// The tempo of the song.
    pub goal: f64,
    /// Bad rounds in a row.
    bad: u8,
}

/// What a round did to the tempo.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Climb {
    /// A step faster.
    Up,
    /// As before.
    Stay,
    /// A step slower.
    Down,
    /// Clean at the goal.
    There,
}

/// Practice starts at this part of the goal (common practice: slow enough to
/// be right the first time).
const START: f64 = 0.6;
/// And never goes below this.
const SLOWEST: f64 = 0.4;
/// A step is this part of the goal, at least [`LEAST_STEP`].
const STEP: f64 = 0.06;
const LEAST_STEP: f64 = 3.0;

impl Ladder {
    /// At the start, or at the tempo that was reached the last time.
    pub fn new(goal: f64, reached: Option<f64>) -> Self {
        let tempo = reached.unwrap_or(goal * START).clamp(goal * SLOWEST, goal);
        Self { tempo, goal, bad: 0 }
    }

    fn step(&self) -> f64 {
        (self.goal * STEP).max(LEAST_STEP)
    }

    /// After a round.
    pub fn judge(&mut self, clean: bool) -> Climb {
        if clean {
            self.bad = 0;
            if self.tempo >= self.goal - 0.01 {
                return Climb::There;
            }
            self.faster();
            return Climb::Up;
        }
        self.bad += 1;
        if self.bad < 2 {
            return Climb::Stay;
        }
        self.bad = 0;
        let before = self.tempo;
        self.slower();
        if self.tempo < before { Climb::Down } else { Climb::Stay }
    }

    /// What to play after a round of `stage`, `None` when the goal is reached, and
    /// what the round did to the tempo.
    pub fn after(&mut self, stage: RoundStage, clean: bool) -> (Option<RoundStage>, Climb) {
        if stage == RoundStage::Together && clean {
            return (Some(RoundStage::Alone), Climb::Stay);
        }
        let climb = self.judge(clean);
        let next = match climb {
            Climb::Up => Some(RoundStage::Alone),
            Climb::Down => Some(RoundStage::Together),
            Climb::Stay => Some(stage),
            Climb::There => None,
        };
        (next, climb)
    }

    /// A step down, by the player's own wish.
    pub fn slower(&mut self) {
        self.tempo = (self.tempo - self.step()).max(self.goal * SLOWEST);
    }

    /// A step up.
    pub fn faster(&mut self) {
        self.tempo = (self.tempo + self.step()).min(self.goal);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_bad_round_is_forgiven_two_are_not() {
        let mut ladder = Ladder::new(100.0, Some(80.0));
        assert_eq!(ladder.judge(false), Climb::Stay);
        assert_eq!(ladder.judge(true), Climb::Up);
        assert_eq!(ladder.judge(false), Climb::Stay);
        assert_eq!(ladder.judge(false), Climb::Down);
        assert!((ladder.tempo - 80.0).abs() < 1e-9);
    }

    #[test]
    fn only_clean_rounds_lead_to_the_goal_and_not_beyond() {
        let mut ladder = Ladder::new(100.0, None);
        let ups = (0..100).take_while(|_| ladder.judge(true) == Climb::Up).count();
        assert_eq!(ups, 7); // 60, 66, … 96, 100
        assert_eq!(ladder.judge(true), Climb::There);
    }
}
