//! What was done in the window, to be taken back. A step that is taken back is a
//! gesture or an edit like any other, so that a host's own undo goes with it.

use std::path::PathBuf;

use egui::{Key, KeyboardShortcut, Modifiers, Ui};
use sinistra_core::engine::Snapshot;

use crate::control::{Control, Values};
use crate::history::UndoHistory;
use crate::home::{Connections, Home, PatternCard, PlayersText};
use crate::host::{HostMark, HostMenuEntry};
use crate::look;

/// Something as it was before.
#[derive(Clone, Debug, PartialEq, Eq)]
enum PanelStep {
    Control(Control, i32),
    Text(PlayersText, String),
}

/// The steps of this window. What is done in one frame is one step: a set-up
/// sets many controls.
#[derive(Default)]
pub struct PanelHistory {
    history: UndoHistory<Vec<PanelStep>>,
    /// Whether its last step is of this frame.
    open: bool,
    /// Controls that are held: as they were, and as they are now.
    held: Vec<(Control, i32, i32)>,
    /// Texts as they were before the edit that goes on.
    texts: Vec<(PlayersText, String)>,
}

impl PanelHistory {
    /// A new frame begins.
    pub fn frame(&mut self) {
        self.open = false;
    }

    /// Steps that can be taken back.
    pub fn steps(&self) -> usize {
        self.history.steps()
    }

    /// Whether something that was taken back can be done again.
    pub fn can_redo(&self) -> bool {
        self.history.can_redo()
    }

    /// Takes the last step back.
    pub fn undo(&mut self, home: &mut dyn Home) {
        self.history.undo(|steps| put_back(steps, home));
    }

    /// Does again what was taken back last.
    pub fn redo(&mut self, home: &mut dyn Home) {
        self.history.redo(|steps| put_back(steps, home));
    }

    fn note(&mut self, step: PanelStep) {
        match self.history.last_mut().filter(|_| self.open) {
            Some(steps) => steps.push(step),
            None => self.history.note(vec![step]),
        }
        self.open = true;
    }
}

/// Puts everything back as it was; gives what it was until now.
fn put_back(steps: Vec<PanelStep>, home: &mut dyn Home) -> Vec<PanelStep> {
    let back = |step| match step {
        PanelStep::Control(control, before) => {
            let now = home.values().get(control);
            home.at_once(control, before);
            PanelStep::Control(control, now)
        }
        PanelStep::Text(which, before) => {
            let now = home.text(which);
            home.set_text(which, &before);
            home.edited();
            PanelStep::Text(which, now)
        }
    };
    steps.into_iter().rev().map(back).collect()
}

/// A home whose changes are remembered.
pub struct Recorded<'a> {
    /// Whose.
    pub home: &'a mut dyn Home,
    /// Where.
    pub undo: &'a mut PanelHistory,
}

impl Home for Recorded<'_> {
    fn take_hold(&mut self, control: Control) {
        let now = self.home.values().get(control);
        self.undo.held.push((control, now, now));
        self.home.take_hold(control);
    }

    fn set(&mut self, control: Control, value: i32) {
        if let Some(held) = self.undo.held.iter_mut().find(|(held, ..)| *held == control) {
            held.2 = value;
        }
        self.home.set(control, value);
    }

    fn let_go(&mut self, control: Control) {
        if let Some(at) = self.undo.held.iter().position(|(held, ..)| *held == control) {
            let (_, before, now) = self.undo.held.remove(at);
            if before != now {
                self.undo.note(PanelStep::Control(control, before));
            }
        }
        self.home.let_go(control);
    }

    fn set_text(&mut self, which: PlayersText, text: &str) {
        if self.undo.texts.iter().all(|(edited, _)| *edited != which) {
            self.undo.texts.push((which, self.home.text(which)));
        }
        self.home.set_text(which, text);
    }

    fn edited(&mut self) {
        for (which, before) in std::mem::take(&mut self.undo.texts) {
            if before != self.home.text(which) {
                self.undo.note(PanelStep::Text(which, before));
            }
        }
        self.home.edited();
    }

    fn snapshot(&mut self) -> Snapshot {
        self.home.snapshot()
    }
    fn values(&self) -> Values {
        self.home.values()
    }
    fn offers(&self, control: Control) -> bool {
        self.home.offers(control)
    }
    fn host_mark(&self, control: Control) -> HostMark {
        self.home.host_mark(control)
    }
    fn ask_menu(&mut self, control: Control) {
        self.home.ask_menu(control);
    }
    fn menu(&self, control: Control) -> Vec<HostMenuEntry> {
        self.home.menu(control)
    }
    fn choose(&mut self, control: Control, number: u32) {
        self.home.choose(control, number);
    }
    fn patterns(&self) -> Vec<PatternCard> {
        self.home.patterns()
    }
    fn set_ups(&self) -> Option<PathBuf> {
        self.home.set_ups()
    }
    fn text(&self, which: PlayersText) -> String {
        self.home.text(which)
    }
    fn keep(&mut self, bars: usize) -> Result<PathBuf, String> {
        self.home.keep(bars)
    }
    fn delay(&self) -> f64 {
        self.home.delay()
    }
    fn wiring(&self) -> Option<Connections> {
        self.home.wiring()
    }
    fn look(&self) -> look::LookChoice {
        self.home.look()
    }
    fn set_look(&mut self, look: look::LookChoice) {
        self.home.set_look(look);
    }
}

/// Whether undo is asked for, or redo, by the keys that programs have for it.
pub fn asked(ui: &Ui) -> (bool, bool) {
    let shift = Modifiers::COMMAND | Modifiers::SHIFT;
    let pressed = |modifiers, key| {
        ui.ctx().input_mut(|input| input.consume_shortcut(&KeyboardShortcut::new(modifiers, key)))
    };
    // The longer shortcut first: the shorter is a part of it.
    let again = pressed(shift, Key::Z) || pressed(Modifiers::COMMAND, Key::Y);
    (pressed(Modifiers::COMMAND, Key::Z), again)
}
