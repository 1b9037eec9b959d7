//! The host's own menu of a parameter (VST 3, `ivstcontextmenu.h`). Upstream: the framework
//! would have to pass `IComponentHandler3` on to the editor.

#![allow(unsafe_code, reason = "VST3 is an interface in COM")]
#![allow(clippy::unnecessary_cast, reason = "the types of C enums differ from system to system")]

use std::sync::Arc;
use std::sync::atomic::AtomicPtr;
use std::sync::atomic::Ordering::Relaxed;

use parking_lot::Mutex;
use sinistra_panel::control::Control;
use sinistra_panel::host::{HostMenuEntry, HostMenuKind};

use super::api::ComPtr;
use super::api::Steinberg::Vst::IContextMenuItem_::Flags_::{
    kIsChecked, kIsDisabled, kIsGroupEnd, kIsGroupStart, kIsSeparator,
};
use super::api::Steinberg::Vst::*;
use super::api::Steinberg::*;
use crate::free::HostMenus;

/// Entries that one menu may have.
const MOST: i32 = 200;

/// What the host has given so far; the component fills it in.
#[derive(Default)]
pub struct HostGiven {
    /// Its ear.
    pub handler: Mutex<Option<ComPtr<IComponentHandler>>>,
    /// The view of the window that was opened last; only looked at while it is open.
    pub view: AtomicPtr<IPlugView>,
}

/// Asks a host.
pub struct Vst3Menus {
    given: Arc<HostGiven>,
    ids: Vec<(Control, ParamID)>,
    /// The menu that was asked for last, which holds the targets of its entries.
    open: Option<OpenMenu>,
}

struct OpenMenu {
    _menu: ComPtr<IContextMenu>,
    /// By the number of the entry: whom to tell, and of which.
    targets: Vec<(*mut IContextMenuTarget, int32)>,
}

// SAFETY: it is used on the host's main thread only, as `HostMenus` says.
#[allow(clippy::non_send_fields_in_send_ty, reason = "said above")]
unsafe impl Send for Vst3Menus {}

impl Vst3Menus {
    /// For a component with these parameters.
    pub fn of(given: Arc<HostGiven>, ids: Vec<(Control, ParamID)>) -> Self {
        Self { given, ids, open: None }
    }

    fn menu(&self, control: Control) -> Option<ComPtr<IContextMenu>> {
        let id = self.ids.iter().find(|id| id.0 == control)?.1;
        let handler = self.given.handler.lock().clone()?.cast::<IComponentHandler3>()?;
        // SAFETY: the handler is the host's, and the view that of the open window; what is
        // made is ours (`createContextMenu`).
        unsafe {
            let view = self.given.view.load(Relaxed);
            ComPtr::from_raw(handler.createContextMenu(view, &raw const id))
        }
    }
}

impl HostMenus for Vst3Menus {
    fn ask(&mut self, control: Control) -> Vec<HostMenuEntry> {
        self.open = None;
        let Some(menu) = self.menu(control) else { return Vec::new() };
        let (mut entries, mut targets) = (Vec::new(), Vec::new());
        // SAFETY: the menu is the host's; there is room for what is asked for.
        unsafe {
            for index in 0..menu.getItemCount().min(MOST) {
                let mut item: IContextMenuItem = std::mem::zeroed();
                let mut target = std::ptr::null_mut();
                if menu.getItem(index, &raw mut item, &raw mut target) == kResultOk {
                    entries.push(entry(&item, targets.len() as u32));
                    targets.push((target, item.tag));
                }
            }
        }
        self.open = Some(OpenMenu { _menu: menu, targets });
        entries
    }

    fn choose(&mut self, _: Control, number: u32) {
        let Some(open) = self.open.take() else { return };
        let Some((target, tag)) = open.targets.get(number as usize) else { return };
        // SAFETY: null, or held by the menu, which is there until this returns.
        unsafe {
            if !target.is_null() {
                ((*(**target).vtbl).executeMenuItem)(*target, *tag);
            }
        }
    }
}

fn entry(item: &IContextMenuItem, number: u32) -> HostMenuEntry {
    let letters = item.name.iter().map(|letter| *letter as u16).take_while(|c| *c != 0);
    let label = String::from_utf16_lossy(&letters.collect::<Vec<_>>());
    let has = |flag| item.flags & flag as i32 == flag as i32;
    let kind = match () {
        // The end of a group is a rule, and its start words over it.
        () if has(kIsGroupEnd) || has(kIsSeparator) => HostMenuKind::Rule,
        () if has(kIsGroupStart) => HostMenuKind::Title,
        () if has(kIsChecked) => HostMenuKind::Switch(true),
        () => HostMenuKind::Action,
    };
    HostMenuEntry { label, kind, enabled: !has(kIsDisabled), number }
}

#[cfg(test)]
mod tests {
    use super::super::buses::wide;
    use super::*;

    /// The rest against a host with an open window: `plugin/tests/window.rs`.
    #[test]
    fn what_an_entry_is_and_whether_it_may_be_chosen_is_read_from_its_flags() {
        for (name, flags, kind, enabled) in [
            ("Test host", kIsGroupStart, HostMenuKind::Title, false),
            ("Learn a controller", 0, HostMenuKind::Action, true),
            ("", kIsGroupEnd, HostMenuKind::Rule, true),
            ("Locked", kIsChecked, HostMenuKind::Switch(true), true),
            ("Not now", kIsDisabled, HostMenuKind::Action, false),
        ] {
            let item = IContextMenuItem { name: wide(name), tag: 0, flags: flags as i32 };
            let read = entry(&item, 7);
            assert_eq!((read.label.as_str(), read.kind), (name, kind));
            assert_eq!((read.enabled, read.number), (enabled, 7), "{name}");
        }
    }
}
