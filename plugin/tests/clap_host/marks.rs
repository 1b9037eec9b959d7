//! The host's own menu of a parameter, and its marks (clap 1.2, `ext/context-menu.h`,
//! `ext/param-indication.h`).

#![allow(unsafe_code, reason = "CLAP is an interface in C")]

use std::ffi::CStr;

use clap_sys::color::clap_color;
use clap_sys::ext::context_menu::*;
use clap_sys::ext::param_indication::{CLAP_EXT_PARAM_INDICATION, clap_plugin_param_indication};
use clap_sys::host::clap_host;

use super::callbacks::notes;
use super::{ClapHost, on_main};

pub static MENUS: clap_host_context_menu = clap_host_context_menu {
    populate: Some(populate),
    perform: Some(perform),
    can_popup: None,
    popup: None,
};

/// The host's number for its only entry.
pub const ENTRY: u32 = 4711;

unsafe fn parameter(target: *const clap_context_menu_target) -> u32 {
    assert!(on_main(), "context_menu is [main-thread]");
    let target = unsafe { &*target };
    assert_eq!(target.kind, CLAP_CONTEXT_MENU_TARGET_KIND_PARAM);
    target.id
}

/// A title, an entry, a group with a switch that is grey.
unsafe extern "C" fn populate(
    host: *const clap_host,
    target: *const clap_context_menu_target,
    builder: *const clap_context_menu_builder,
) -> bool {
    let text = |text: &'static CStr| text.as_ptr();
    unsafe {
        notes(host).asked.set(Some(parameter(target)));
        let add = (*builder).add_item.unwrap();
        let supports = (*builder).supports.unwrap();
        assert!(supports(builder, CLAP_CONTEXT_MENU_ITEM_BEGIN_SUBMENU));
        let title = clap_context_menu_item_title { title: text(c"Test host"), is_enabled: true };
        add(builder, CLAP_CONTEXT_MENU_ITEM_TITLE, (&raw const title).cast());
        let entry = clap_context_menu_entry {
            label: text(c"Learn a controller"),
            is_enabled: true,
            action_id: ENTRY,
        };
        add(builder, CLAP_CONTEXT_MENU_ITEM_ENTRY, (&raw const entry).cast());
        let group = clap_context_menu_submenu { label: text(c"More"), is_enabled: true };
        add(builder, CLAP_CONTEXT_MENU_ITEM_BEGIN_SUBMENU, (&raw const group).cast());
        let check = clap_context_menu_check_entry {
            label: text(c"Locked"),
            is_enabled: false,
            is_checked: true,
            action_id: ENTRY + 1,
        };
        add(builder, CLAP_CONTEXT_MENU_ITEM_CHECK_ENTRY, (&raw const check).cast());
        assert!(add(builder, CLAP_CONTEXT_MENU_ITEM_END_SUBMENU, std::ptr::null()));
        assert!(!add(builder, 99, (&raw const check).cast()), "an unknown kind");
    }
    true
}

unsafe extern "C" fn perform(
    host: *const clap_host,
    target: *const clap_context_menu_target,
    action: u32,
) -> bool {
    unsafe { notes(host).chosen.set(Some((parameter(target), action))) };
    true
}

impl ClapHost {
    /// The host maps a parameter to its third knob, red, and its automation does this.
    pub fn mark(&self, name: &str, is_mapped: bool, automation: u32) {
        let marks: &clap_plugin_param_indication = self.extension(CLAP_EXT_PARAM_INDICATION);
        let id = self.param(name).id;
        let red = clap_color { alpha: 255, red: 200, green: 10, blue: 10 };
        unsafe {
            let (colour, label) = (&raw const red, c"Knob 3".as_ptr());
            marks.set_mapping.unwrap()(self.plugin, id, is_mapped, colour, label, std::ptr::null());
            marks.set_automation.unwrap()(self.plugin, id, automation, colour);
            // One that nobody has is nobody's.
            marks.set_automation.unwrap()(self.plugin, 1, automation, std::ptr::null());
        }
    }
}
