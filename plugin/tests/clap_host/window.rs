//! The host's side of the plugin's window.

use clap_sys::ext::gui::clap_host_gui;
use clap_sys::host::clap_host;

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

unsafe extern "C" fn request_resize(host: *const clap_host, width: u32, height: u32) -> bool {
    unsafe { super::notes(host) }.resized.set(Some((width, height)));
    true
}
