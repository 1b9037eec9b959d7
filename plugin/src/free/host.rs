//! The host's side of the controls: what it marks on them, and its menu of each. Tables
//! of the formats fill it in (`second_output`), the window shows it.

use parking_lot::Mutex;
use sinistra_panel::control::Control;
use sinistra_panel::host::{HostMark, HostMenuEntry};

/// A host's own menus. Called on the host's main thread only.
pub trait HostMenus: Send {
    /// The entries for a control; none where the host has no menu.
    fn ask(&mut self, control: Control) -> Vec<HostMenuEntry>;
    /// An entry of the last answer is chosen.
    fn choose(&mut self, control: Control, number: u32);
}

/// One for each instance.
#[derive(Default)]
pub struct HostSide {
    menus: Mutex<Option<Box<dyn HostMenus>>>,
    /// The menu that was asked for last.
    menu: Mutex<Option<(Control, Vec<HostMenuEntry>)>>,
    /// Controls that the host marks.
    marks: Mutex<Vec<(Control, HostMark)>>,
}

impl HostSide {
    /// The format has found its way to the host's menus.
    pub fn has_menus(&self, menus: Box<dyn HostMenus>) {
        *self.menus.lock() = Some(menus);
    }

    /// Asks the host, on its main thread.
    pub fn ask(&self, control: Control) {
        let entries = self.menus.lock().as_mut().map(|menus| menus.ask(control));
        *self.menu.lock() = entries.map(|entries| (control, entries));
    }

    /// Has the host do it, on its main thread.
    pub fn choose(&self, control: Control, number: u32) {
        if let Some(menus) = self.menus.lock().as_mut() {
            menus.choose(control, number);
        }
    }

    /// What the host offers for a control, once it has said so.
    pub fn menu(&self, control: Control) -> Vec<HostMenuEntry> {
        let menu = self.menu.lock();
        let of = menu.as_ref().filter(|menu| menu.0 == control);
        of.map_or_else(Vec::new, |menu| menu.1.clone())
    }

    /// What the host marks on a control.
    pub fn mark(&self, control: Control) -> HostMark {
        let marks = self.marks.lock();
        let of = marks.iter().find(|mark| mark.0 == control);
        of.map_or_else(HostMark::default, |mark| mark.1.clone())
    }

    /// The host marks a control otherwise.
    pub fn change_mark(&self, control: Control, change: impl FnOnce(&mut HostMark)) {
        let mut mark = self.mark(control);
        change(&mut mark);
        let mut marks = self.marks.lock();
        marks.retain(|other| other.0 != control);
        marks.push((control, mark));
    }
}
