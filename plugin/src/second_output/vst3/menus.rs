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
    use super::super::api::{Class, ComWrapper};
    use super::super::component::Component;
    use super::*;

    /// A host with a menu of four entries, which notes down what is chosen.
    #[derive(Default)]
    struct MenuHost {
        asked: Mutex<Vec<ParamID>>,
        chosen: Arc<Mutex<Vec<int32>>>,
    }

    struct Menu(ComPtr<IContextMenuTarget>);
    struct Target(Arc<Mutex<Vec<int32>>>);

    impl Class for MenuHost {
        type Interfaces = (IComponentHandler, IComponentHandler3);
    }

    impl Class for Menu {
        type Interfaces = (IContextMenu,);
    }

    impl Class for Target {
        type Interfaces = (IContextMenuTarget,);
    }

    impl IComponentHandlerTrait for MenuHost {
        unsafe fn beginEdit(&self, _: ParamID) -> tresult {
            kResultOk
        }
        unsafe fn performEdit(&self, _: ParamID, _: ParamValue) -> tresult {
            kResultOk
        }
        unsafe fn endEdit(&self, _: ParamID) -> tresult {
            kResultOk
        }
        unsafe fn restartComponent(&self, _: int32) -> tresult {
            kResultOk
        }
    }

    impl IComponentHandler3Trait for MenuHost {
        unsafe fn createContextMenu(
            &self,
            _: *mut IPlugView,
            id: *const ParamID,
        ) -> *mut IContextMenu {
            // SAFETY: the plugin passes an id.
            self.asked.lock().push(unsafe { *id });
            let target = ComWrapper::new(Target(self.chosen.clone()));
            let target = target.to_com_ptr::<IContextMenuTarget>().expect("a target");
            let menu = ComWrapper::new(Menu(target)).to_com_ptr::<IContextMenu>();
            menu.expect("a menu").into_raw()
        }
    }

    const ENTRIES: [(&str, int32); 5] = [
        ("Test host", kIsGroupStart as int32),
        ("Learn a controller", 0),
        ("", kIsGroupEnd as int32),
        ("Locked", kIsChecked as int32),
        ("Not now", kIsDisabled as int32),
    ];

    impl IContextMenuTrait for Menu {
        unsafe fn getItemCount(&self) -> int32 {
            ENTRIES.len() as int32
        }
        unsafe fn getItem(
            &self,
            index: int32,
            item: *mut IContextMenuItem,
            target: *mut *mut IContextMenuTarget,
        ) -> tresult {
            let (name, flags) = ENTRIES[index as usize];
            let name = super::super::buses::wide(name);
            // SAFETY: the plugin passes room for both.
            unsafe {
                item.write(IContextMenuItem { name, tag: 100 + index, flags });
                target.write(self.0.as_ptr());
            }
            kResultOk
        }
        unsafe fn addItem(
            &self,
            _: *const IContextMenuItem,
            _: *mut IContextMenuTarget,
        ) -> tresult {
            kNotImplemented
        }
        unsafe fn removeItem(
            &self,
            _: *const IContextMenuItem,
            _: *mut IContextMenuTarget,
        ) -> tresult {
            kNotImplemented
        }
        unsafe fn popup(&self, _: UCoord, _: UCoord) -> tresult {
            kNotImplemented
        }
    }

    impl IContextMenuTargetTrait for Target {
        unsafe fn executeMenuItem(&self, tag: int32) -> tresult {
            self.0.lock().push(tag);
            kResultOk
        }
    }

    #[test]
    fn the_hosts_menu_of_a_parameter_is_read_and_what_is_chosen_is_done() {
        let component = Component::default();
        let mut menus =
            Vst3Menus::of(component.given.clone(), super::super::programs::ids(&component.inner));
        assert_eq!(menus.ask(Control::Split), [], "no host yet");
        let host = ComWrapper::new(MenuHost::default());
        let handler = host.to_com_ptr::<IComponentHandler>().expect("a handler");
        // SAFETY: a whole handler.
        assert_eq!(unsafe { component.setComponentHandler(handler.as_ptr()) }, kResultOk);
        let entries = menus.ask(Control::Split);
        let kinds: Vec<_> = entries.iter().map(|entry| (entry.kind, entry.enabled)).collect();
        let expected = [
            (HostMenuKind::Title, false),
            (HostMenuKind::Action, true),
            (HostMenuKind::Rule, true),
            (HostMenuKind::Switch(true), true),
            (HostMenuKind::Action, false),
        ];
        assert_eq!(kinds, expected);
        assert_eq!(entries[1].label, "Learn a controller");
        menus.choose(Control::Split, entries[1].number);
        assert_eq!(*host.chosen.lock(), [101]);
        menus.choose(Control::Split, entries[1].number); // that menu is gone
        assert_eq!(host.chosen.lock().len(), 1);
        // SAFETY: the host takes its ear away.
        assert_eq!(unsafe { component.setComponentHandler(std::ptr::null_mut()) }, kResultOk);
        assert_eq!(menus.ask(Control::Split), []);
        assert_eq!(host.asked.lock().len(), 1);
    }
}
