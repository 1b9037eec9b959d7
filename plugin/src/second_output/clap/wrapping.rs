//! The plugin as the host sees it: the framework's, but for the note ports and
//! where its events go.

#![allow(unsafe_code)]

use std::ffi::{CStr, c_char, c_void};

use clap_sys::events::clap_output_events;
use clap_sys::ext::note_ports::CLAP_EXT_NOTE_PORTS;
use clap_sys::plugin::clap_plugin;
use clap_sys::process::{CLAP_PROCESS_ERROR, clap_process, clap_process_status};

use super::{outlet, ports};

/// What the host holds; it sees the first field alone.
#[repr(C)]
struct Wrapped {
    /// The framework's functions and its data, which is all that they look at
    /// when they are called with this plugin instead of their own.
    outer: clap_plugin,
    inner: *const clap_plugin,
}

/// Wraps a plugin of the framework's; it is destroyed with its wrapping.
///
/// # Safety
/// `inner` must be a whole plugin that lives until its `destroy` is called, and
/// nobody else may call that.
pub unsafe fn wrap(inner: *const clap_plugin) -> *const clap_plugin {
    // SAFETY: it is a whole plugin, says the caller.
    let made = unsafe { *inner };
    let outer = clap_plugin {
        destroy: Some(destroy),
        process: Some(process),
        get_extension: Some(get_extension),
        ..made
    };
    Box::into_raw(Box::new(Wrapped { outer, inner })).cast()
}

/// # Safety
/// `plugin` must come from [`wrap`] and not be destroyed yet.
unsafe fn inner<'a>(plugin: *const clap_plugin) -> &'a clap_plugin {
    // SAFETY: `outer` is the first field of a `Wrapped` in C's layout, so that
    // its address is the whole's; `inner` lives as long as the wrapping.
    unsafe { &*(*plugin.cast::<Wrapped>()).inner }
}

unsafe extern "C" fn destroy(plugin: *const clap_plugin) {
    if plugin.is_null() {
        return;
    }
    // SAFETY: hosts call this once, last, with what `wrap` gave them.
    let wrapped = unsafe { Box::from_raw(plugin.cast_mut().cast::<Wrapped>()) };
    // SAFETY: as `wrap` asked, nobody has destroyed it yet.
    unsafe {
        if let Some(destroy) = (*wrapped.inner).destroy {
            destroy(wrapped.inner);
        }
    }
}

unsafe extern "C" fn get_extension(plugin: *const clap_plugin, id: *const c_char) -> *const c_void {
    if plugin.is_null() || id.is_null() {
        return std::ptr::null();
    }
    // SAFETY: the host passes a C string and a plugin that `wrap` gave it.
    unsafe {
        if CStr::from_ptr(id) == CLAP_EXT_NOTE_PORTS {
            return (&raw const ports::PORTS).cast();
        }
        let inner = inner(plugin);
        inner.get_extension.map_or(std::ptr::null(), |get| get(inner, id))
    }
}

/// Real-time safe.
unsafe extern "C" fn process(
    plugin: *const clap_plugin,
    process: *const clap_process,
) -> clap_process_status {
    if plugin.is_null() || process.is_null() {
        return CLAP_PROCESS_ERROR;
    }
    // SAFETY: the host passes a plugin that `wrap` gave it, and a block that is
    // whole and its own until this returns; so is the event list that stands
    // before the host's.
    unsafe {
        let (inner, mut block) = (inner(plugin), *process);
        let list = clap_output_events {
            ctx: block.out_events.cast_mut().cast(),
            try_push: Some(outlet::try_push),
        };
        if !block.out_events.is_null() {
            block.out_events = &raw const list;
        }
        inner.process.map_or(CLAP_PROCESS_ERROR, |process| process(inner, &raw const block))
    }
}
