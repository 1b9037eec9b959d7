//! The host's own menu of a parameter (`ivstcontextmenu.h`).

use std::sync::{Arc, Mutex};

use vst3::Steinberg::Vst::IContextMenuItem_::Flags_::*;
use vst3::Steinberg::Vst::*;
use vst3::Steinberg::*;
use vst3::{Class, ComPtr, ComWrapper};

use super::HostHandler;

/// What is chosen of the menus, by the host's own numbers.
pub type Chosen = Arc<Mutex<Vec<i32>>>;

/// The entries; the second is one to choose, [`ENTRY`].
const ENTRIES: [(&str, i32); 5] = [
    ("Test host", kIsGroupStart as i32),
    ("Learn a controller", 0),
    ("", kIsGroupEnd as i32),
    ("Locked", kIsChecked as i32),
    ("Not now", kIsDisabled as i32),
];
pub const ENTRY: i32 = 101;

struct Menu(ComPtr<IContextMenuTarget>);
struct Target(Chosen);

impl Class for Menu {
    type Interfaces = (IContextMenu,);
}

impl Class for Target {
    type Interfaces = (IContextMenuTarget,);
}

impl IComponentHandler3Trait for HostHandler {
    unsafe fn createContextMenu(
        &self,
        view: *mut IPlugView,
        id: *const ParamID,
    ) -> *mut IContextMenu {
        assert!(!view.is_null(), "the window is open");
        self.asked.lock().unwrap().push(unsafe { *id });
        let target = ComWrapper::new(Target(self.chosen.clone()));
        let target = target.to_com_ptr::<IContextMenuTarget>().unwrap();
        ComWrapper::new(Menu(target)).to_com_ptr::<IContextMenu>().unwrap().into_raw()
    }
}

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
        let (words, flags) = ENTRIES[index as usize];
        let mut name = [0; 128];
        name.iter_mut().zip(words.encode_utf16()).for_each(|(to, letter)| *to = letter as _);
        unsafe {
            item.write(IContextMenuItem { name, tag: ENTRY - 1 + index, flags });
            target.write(self.0.as_ptr());
        }
        kResultOk
    }
    unsafe fn addItem(&self, _: *const IContextMenuItem, _: *mut IContextMenuTarget) -> tresult {
        kNotImplemented
    }
    unsafe fn removeItem(&self, _: *const IContextMenuItem, _: *mut IContextMenuTarget) -> tresult {
        kNotImplemented
    }
    unsafe fn popup(&self, _: UCoord, _: UCoord) -> tresult {
        kNotImplemented
    }
}

impl IContextMenuTargetTrait for Target {
    unsafe fn executeMenuItem(&self, tag: int32) -> tresult {
        self.0.lock().unwrap().push(tag);
        kResultOk
    }
}
