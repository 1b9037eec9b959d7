//! What was done on stage, to be taken back: steps of the panel behind, and wishes
//! that have an opposite.

use egui::Ui;

use super::scene::{OnStage, StageScene, StageWish, Turn};
use crate::history::UndoHistory;
use crate::view::{Panel, asked};

enum StageStep {
    /// The panel knows it.
    Panel,
    /// First what takes it back, then what does it again.
    Wish(StageWish, StageWish),
}

/// The steps of this evening.
#[derive(Default)]
pub struct StageHistory {
    history: UndoHistory<StageStep>,
    /// Its button was pressed.
    asked: bool,
}

impl StageHistory {
    /// Whether there is something to be taken back.
    pub fn can_undo(&self) -> bool {
        self.history.steps() > 0
    }

    /// The button is pressed.
    pub fn ask(&mut self) {
        self.asked = true;
    }

    /// A step was done in the panel behind.
    pub fn panel(&mut self) {
        self.history.note(StageStep::Panel);
    }

    /// Something is wished for, where all is as in `scene`.
    pub fn wish(&mut self, wish: &StageWish, scene: &StageScene) {
        let Some(back) = opposite(wish, scene) else { return };
        // A slider that is drawn, a tempo that is pressed up, is one step.
        if let Some(StageStep::Wish(before, last)) = self.history.last_mut()
            && slides(wish)
            && std::mem::discriminant(before) == std::mem::discriminant(wish)
        {
            *last = wish.clone();
            return;
        }
        self.history.note(StageStep::Wish(back, wish.clone()));
    }

    /// Takes back or does again, if the keys or the button ask for it.
    pub fn keys(&mut self, ui: &Ui, panel: &mut Panel, stage: &mut dyn OnStage) {
        let writes = ui.ctx().egui_wants_keyboard_input();
        let (back, again) = if writes { (false, false) } else { asked(ui) };
        if std::mem::take(&mut self.asked) || back {
            self.history.undo(|step| {
                match &step {
                    StageStep::Panel => panel.undo(stage),
                    StageStep::Wish(back, _) => stage.wish(back.clone()),
                }
                step
            });
        } else if again {
            self.history.redo(|step| {
                match &step {
                    StageStep::Panel => panel.redo(stage),
                    StageStep::Wish(_, again) => stage.wish(again.clone()),
                }
                step
            });
        }
    }
}

/// Whether it comes in many small steps.
const fn slides(wish: &StageWish) -> bool {
    matches!(wish, StageWish::Tempo(_) | StageWish::Piano(_) | StageWish::Metronome(_))
}

/// What takes a wish back; `None` for what has sounded or is past.
fn opposite(wish: &StageWish, scene: &StageScene) -> Option<StageWish> {
    Some(match wish {
        StageWish::Tempo(_) => StageWish::Tempo(scene.tempo),
        StageWish::Lead(_) => StageWish::Lead(scene.leads),
        StageWish::Left(_) => StageWish::Left(scene.left),
        StageWish::OctaveDrop => StageWish::OctaveDrop,
        StageWish::Hold => StageWish::Hold,
        StageWish::Clicks => StageWish::Clicks,
        StageWish::Piano(_) => StageWish::Piano(scene.piano?),
        StageWish::Metronome(_) => StageWish::Metronome(scene.metronome),
        StageWish::Next | StageWish::Previous | StageWish::Song(_) => StageWish::Song(scene.at?),
        StageWish::Move(from, to) => StageWish::Move(*to, *from),
        StageWish::Hear(port, on) => StageWish::Hear(port.clone(), !on),
        StageWish::SendTo(port, on) => StageWish::SendTo(port.clone(), !on),
        StageWish::Zone(n, turn) => StageWish::Zone(
            *n,
            match turn {
                Turn::Up => Turn::Down,
                Turn::Down => Turn::Up,
                Turn::OctaveUp => Turn::OctaveDown,
                Turn::OctaveDown => Turn::OctaveUp,
                Turn::Touch | Turn::Channel => return None, // on around the list
            },
        ),
        StageWish::AddZone => StageWish::RemoveZone(scene.zones.len()),
        StageWish::RemoveZone(_) => return None,
        StageWish::StartOrStop
        | StageWish::Tap
        | StageWish::Panic
        | StageWish::Learn(_)
        | StageWish::Save
        | StageWish::FullScreen => return None,
    })
}
