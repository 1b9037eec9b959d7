//! What was done on stage, to be taken back: steps of the panel behind, and wishes
//! that have an opposite.

use egui::Ui;

use super::scene::{Scene, Stage, Turn, Wish};
use crate::history::History;
use crate::view::{Panel, asked};

enum Step {
    /// The panel knows it.
    Panel,
    /// First what takes it back, then what does it again.
    Wish(Wish, Wish),
}

/// The steps of this evening.
#[derive(Default)]
pub struct StageHistory {
    history: History<Step>,
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
        self.history.note(Step::Panel);
    }

    /// Something is wished for, where all is as in `scene`.
    pub fn wish(&mut self, wish: &Wish, scene: &Scene) {
        let Some(back) = opposite(wish, scene) else { return };
        // A slider that is drawn, a tempo that is pressed up, is one step.
        if let Some(Step::Wish(before, last)) = self.history.last_mut()
            && slides(wish)
            && std::mem::discriminant(before) == std::mem::discriminant(wish)
        {
            *last = wish.clone();
            return;
        }
        self.history.note(Step::Wish(back, wish.clone()));
    }

    /// Takes back or does again, if the keys or the button ask for it.
    pub fn keys(&mut self, ui: &Ui, panel: &mut Panel, stage: &mut dyn Stage) {
        let writes = ui.ctx().egui_wants_keyboard_input();
        let (back, again) = if writes { (false, false) } else { asked(ui) };
        if std::mem::take(&mut self.asked) || back {
            self.history.undo(|step| {
                match &step {
                    Step::Panel => panel.undo(stage),
                    Step::Wish(back, _) => stage.wish(back.clone()),
                }
                step
            });
        } else if again {
            self.history.redo(|step| {
                match &step {
                    Step::Panel => panel.redo(stage),
                    Step::Wish(_, again) => stage.wish(again.clone()),
                }
                step
            });
        }
    }
}

/// Whether it comes in many small steps.
const fn slides(wish: &Wish) -> bool {
    matches!(wish, Wish::Tempo(_) | Wish::Piano(_) | Wish::Metronome(_))
}

/// What takes a wish back; `None` for what has sounded or is past.
fn opposite(wish: &Wish, scene: &Scene) -> Option<Wish> {
    Some(match wish {
        Wish::Tempo(_) => Wish::Tempo(scene.tempo),
        Wish::Lead(_) => Wish::Lead(scene.leads),
        Wish::Left(_) => Wish::Left(scene.left),
        Wish::OctaveDrop => Wish::OctaveDrop,
        Wish::Hold => Wish::Hold,
        Wish::Clicks => Wish::Clicks,
        Wish::Piano(_) => Wish::Piano(scene.piano?),
        Wish::Metronome(_) => Wish::Metronome(scene.metronome),
        Wish::Next | Wish::Previous | Wish::Song(_) => Wish::Song(scene.at?),
        Wish::Move(from, to) => Wish::Move(*to, *from),
        Wish::Hear(port, on) => Wish::Hear(port.clone(), !on),
        Wish::SendTo(port, on) => Wish::SendTo(port.clone(), !on),
        Wish::Zone(n, turn) => Wish::Zone(
            *n,
            match turn {
                Turn::Up => Turn::Down,
                Turn::Down => Turn::Up,
                Turn::OctaveUp => Turn::OctaveDown,
                Turn::OctaveDown => Turn::OctaveUp,
                Turn::Touch | Turn::Channel => return None, // on around the list
            },
        ),
        Wish::AddZone => Wish::RemoveZone(scene.zones.len()),
        Wish::RemoveZone(_) => return None,
        Wish::StartOrStop | Wish::Tap | Wish::Panic | Wish::Save | Wish::FullScreen => return None,
    })
}
