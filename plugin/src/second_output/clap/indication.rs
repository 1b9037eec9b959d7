//! What the host maps and automates, shown on the controls (clap 1.2,
//! `ext/param-indication.h`). Upstream: the framework would have to know the extension
//! and pass it to the editor.

#![allow(unsafe_code, reason = "CLAP is an interface in C")]

use std::ffi::{CStr, c_char};

use clap_sys::color::clap_color;
use clap_sys::ext::param_indication::{
    CLAP_PARAM_INDICATION_AUTOMATION_OVERRIDING, CLAP_PARAM_INDICATION_AUTOMATION_PLAYING,
    CLAP_PARAM_INDICATION_AUTOMATION_PRESENT, CLAP_PARAM_INDICATION_AUTOMATION_RECORDING,
    clap_plugin_param_indication,
};
use clap_sys::id::clap_id;
use clap_sys::plugin::clap_plugin;
use sinistra_panel::host::{Automation, HostMapping, HostMark};

use super::wrapping::Wrapped;

/// Answers the host.
pub static INDICATION: clap_plugin_param_indication = clap_plugin_param_indication {
    set_mapping: Some(set_mapping),
    set_automation: Some(set_automation),
};

/// Changes the mark of a parameter.
///
/// # Safety
/// `plugin` must be null or a wrapping.
unsafe fn change(plugin: *const clap_plugin, id: clap_id, change: impl FnOnce(&mut HostMark)) {
    if plugin.is_null() {
        return;
    }
    // SAFETY: it is a wrapping, says the caller.
    let wrapped = unsafe { Wrapped::of(plugin) };
    if let (Some(desk), Some(control)) = (&wrapped.desk, wrapped.ids.control(id)) {
        desk.host.change_mark(control, change);
    }
}

/// # Safety
/// `colour` must be null or point to one.
unsafe fn rgb(colour: *const clap_color) -> Option<[u8; 3]> {
    // SAFETY: says the caller.
    unsafe { colour.as_ref() }.map(|colour| [colour.red, colour.green, colour.blue])
}

/// # Safety
/// `text` must be null or a C string.
pub(super) unsafe fn words(text: *const c_char) -> String {
    if text.is_null() {
        return String::new();
    }
    // SAFETY: says the caller.
    unsafe { CStr::from_ptr(text) }.to_string_lossy().into_owned()
}

unsafe extern "C" fn set_mapping(
    plugin: *const clap_plugin,
    id: clap_id,
    is_mapped: bool,
    colour: *const clap_color,
    name: *const c_char,
    about: *const c_char,
) {
    // SAFETY: the host passes a plugin that it was given, and C strings, or null.
    unsafe {
        let (name, about, colour) = (words(name), words(about), rgb(colour));
        change(plugin, id, |mark| {
            mark.mapped = is_mapped.then_some(HostMapping { name, about, colour });
        });
    }
}

unsafe extern "C" fn set_automation(
    plugin: *const clap_plugin,
    id: clap_id,
    state: u32,
    colour: *const clap_color,
) {
    let automation = match state {
        CLAP_PARAM_INDICATION_AUTOMATION_PRESENT => Automation::Present,
        CLAP_PARAM_INDICATION_AUTOMATION_PLAYING => Automation::Plays,
        CLAP_PARAM_INDICATION_AUTOMATION_RECORDING => Automation::Records,
        CLAP_PARAM_INDICATION_AUTOMATION_OVERRIDING => Automation::Overridden,
        _ => Automation::None,
    };
    // SAFETY: the host passes a plugin that it was given.
    unsafe {
        let colour = rgb(colour);
        change(plugin, id, |mark| (mark.automation, mark.colour) = (automation, colour));
    }
}
