//! The host's own menu of a parameter (clap 1.2, `ext/context-menu.h`). Upstream: the
//! framework would have to pass the extension on to the editor.

#![allow(unsafe_code, reason = "CLAP is an interface in C")]

use std::ffi::c_void;

use clap_sys::ext::context_menu::{
    CLAP_CONTEXT_MENU_ITEM_BEGIN_SUBMENU, CLAP_CONTEXT_MENU_ITEM_CHECK_ENTRY,
    CLAP_CONTEXT_MENU_ITEM_END_SUBMENU, CLAP_CONTEXT_MENU_ITEM_ENTRY,
    CLAP_CONTEXT_MENU_ITEM_SEPARATOR, CLAP_CONTEXT_MENU_ITEM_TITLE,
    CLAP_CONTEXT_MENU_TARGET_KIND_PARAM, CLAP_EXT_CONTEXT_MENU, CLAP_EXT_CONTEXT_MENU_COMPAT,
    clap_context_menu_builder, clap_context_menu_check_entry, clap_context_menu_entry,
    clap_context_menu_item_kind, clap_context_menu_item_title, clap_context_menu_submenu,
    clap_context_menu_target, clap_host_context_menu,
};
use clap_sys::host::clap_host;
use sinistra_panel::control::Control;
use sinistra_panel::host::{HostMenuEntry, HostMenuKind};

use super::indication::words;
use super::params::ControlIds;
use crate::free::HostMenus;

/// Entries that one menu may have.
const MOST: usize = 200;

/// Asks a host.
pub struct ClapMenus {
    host: *const clap_host,
    ids: ControlIds,
}

// SAFETY: it is used on the host's main thread only, as `HostMenus` says; the host lives
// longer than its plugins.
#[allow(clippy::non_send_fields_in_send_ty, reason = "said above")]
unsafe impl Send for ClapMenus {}

impl ClapMenus {
    /// # Safety
    /// `host` must be whole, and outlive this.
    pub unsafe fn of(host: *const clap_host, ids: ControlIds) -> Self {
        Self { host, ids }
    }

    /// The host's table, and what its functions are called for.
    fn table(
        &self,
        control: Control,
    ) -> Option<(&clap_host_context_menu, clap_context_menu_target)> {
        let id = self.ids.id(control)?;
        // SAFETY: the host is whole, and its tables live as long.
        let table = unsafe {
            let get = (*self.host).get_extension?;
            let found = [CLAP_EXT_CONTEXT_MENU, CLAP_EXT_CONTEXT_MENU_COMPAT]
                .map(|id| get(self.host, id.as_ptr()).cast::<clap_host_context_menu>());
            found.iter().find_map(|table| table.as_ref())?
        };
        Some((table, clap_context_menu_target { kind: CLAP_CONTEXT_MENU_TARGET_KIND_PARAM, id }))
    }
}

impl HostMenus for ClapMenus {
    fn ask(&mut self, control: Control) -> Vec<HostMenuEntry> {
        let mut entries: Vec<HostMenuEntry> = Vec::new();
        if let Some((table, target)) = self.table(control)
            && let Some(populate) = table.populate
        {
            let builder = clap_context_menu_builder {
                ctx: (&raw mut entries).cast::<c_void>(),
                add_item: Some(add_item),
                supports: Some(supports),
            };
            // SAFETY: on the main thread; target and builder live until it returns.
            unsafe { populate(self.host, &raw const target, &raw const builder) };
        }
        entries
    }

    fn choose(&mut self, control: Control, number: u32) {
        if let Some((table, target)) = self.table(control)
            && let Some(perform) = table.perform
        {
            // SAFETY: on the main thread.
            unsafe { perform(self.host, &raw const target, number) };
        }
    }
}

/// A menu within the menu is shown as a group of it.
unsafe extern "C" fn supports(
    _: *const clap_context_menu_builder,
    kind: clap_context_menu_item_kind,
) -> bool {
    kind <= CLAP_CONTEXT_MENU_ITEM_TITLE
}

unsafe extern "C" fn add_item(
    builder: *const clap_context_menu_builder,
    kind: clap_context_menu_item_kind,
    data: *const c_void,
) -> bool {
    let ruled =
        matches!(kind, CLAP_CONTEXT_MENU_ITEM_SEPARATOR | CLAP_CONTEXT_MENU_ITEM_END_SUBMENU);
    if builder.is_null() || (data.is_null() && !ruled) {
        return false;
    }
    // SAFETY: the builder is that of `ask`, which is waiting; the data are those of the
    // kind (`context-menu.h`).
    unsafe {
        let entries = &mut *(*builder).ctx.cast::<Vec<HostMenuEntry>>();
        if entries.len() >= MOST {
            return false;
        }
        let entry = match kind {
            CLAP_CONTEXT_MENU_ITEM_ENTRY => {
                let item = &*data.cast::<clap_context_menu_entry>();
                let (kind, number) = (HostMenuKind::Action, item.action_id);
                HostMenuEntry { label: words(item.label), kind, enabled: item.is_enabled, number }
            }
            CLAP_CONTEXT_MENU_ITEM_CHECK_ENTRY => {
                let item = &*data.cast::<clap_context_menu_check_entry>();
                let (kind, number) = (HostMenuKind::Switch(item.is_checked), item.action_id);
                HostMenuEntry { label: words(item.label), kind, enabled: item.is_enabled, number }
            }
            CLAP_CONTEXT_MENU_ITEM_TITLE => {
                title(words((*data.cast::<clap_context_menu_item_title>()).title))
            }
            CLAP_CONTEXT_MENU_ITEM_BEGIN_SUBMENU => {
                title(words((*data.cast::<clap_context_menu_submenu>()).label))
            }
            _ if ruled => HostMenuEntry { kind: HostMenuKind::Rule, ..title(String::new()) },
            _ => return false,
        };
        entries.push(entry);
    }
    true
}

fn title(label: String) -> HostMenuEntry {
    HostMenuEntry { label, kind: HostMenuKind::Title, enabled: true, number: 0 }
}
