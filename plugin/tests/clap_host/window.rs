//! The host's side of the plugin's window, embedded in one of ours (X11).

#![allow(unsafe_code, reason = "CLAP is an interface in C")]

use std::ffi::c_ulong;

use clap_sys::ext::gui::{
    CLAP_EXT_GUI, CLAP_WINDOW_API_X11, clap_host_gui, clap_plugin_gui, clap_window,
    clap_window_handle,
};
use clap_sys::host::clap_host;

use super::ClapHost;

pub const CALLBACKS: clap_host_gui = clap_host_gui {
    resize_hints_changed: Some(nothing),
    request_resize: Some(request_resize),
    request_show: Some(yes),
    request_hide: Some(yes),
    closed: Some(closed),
};

unsafe extern "C" fn nothing(_: *const clap_host) {}

unsafe extern "C" fn yes(_: *const clap_host) -> bool {
    true
}

unsafe extern "C" fn closed(_: *const clap_host, _: bool) {}

unsafe extern "C" fn request_resize(_: *const clap_host, _: u32, _: u32) -> bool {
    true
}

impl ClapHost {
    /// Opens the plugin's window inside `parent`; its size, or `None` if the
    /// plugin refuses.
    pub fn open_window(&self, parent: c_ulong) -> Option<(u32, u32)> {
        let gui: &clap_plugin_gui = self.extension(CLAP_EXT_GUI);
        let api = CLAP_WINDOW_API_X11.as_ptr();
        unsafe {
            assert!(gui.is_api_supported.unwrap()(self.plugin, api, false));
            if !gui.create.unwrap()(self.plugin, api, false) {
                return None;
            }
            let (mut width, mut height) = (0, 0);
            assert!(gui.get_size.unwrap()(self.plugin, &mut width, &mut height));
            let window = clap_window { api, specific: clap_window_handle { x11: parent } };
            if !gui.set_parent.unwrap()(self.plugin, &raw const window) {
                return None;
            }
            gui.show.unwrap()(self.plugin);
            Some((width, height))
        }
    }

    /// The host's frame gets another size.
    pub fn resize_window(&self, width: u32, height: u32) -> bool {
        let gui: &clap_plugin_gui = self.extension(CLAP_EXT_GUI);
        unsafe { gui.set_size.unwrap()(self.plugin, width, height) }
    }

    pub fn close_window(&self) {
        let gui: &clap_plugin_gui = self.extension(CLAP_EXT_GUI);
        unsafe { gui.destroy.unwrap()(self.plugin) }
    }
}
