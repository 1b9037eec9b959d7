//! The plugin as the host sees it: the framework's, but for the note ports, the
//! parameters' numbers, the latency, and what passes in and out.

#![allow(unsafe_code, reason = "CLAP is an interface in C")]

use std::ffi::{CStr, c_char, c_void};
use std::sync::Arc;

use clap_sys::ext::latency::{CLAP_EXT_LATENCY, clap_plugin_latency};
use clap_sys::ext::note_ports::CLAP_EXT_NOTE_PORTS;
use clap_sys::ext::param_indication::{
    CLAP_EXT_PARAM_INDICATION, CLAP_EXT_PARAM_INDICATION_COMPAT,
};
use clap_sys::ext::params::CLAP_EXT_PARAMS;
use clap_sys::ext::preset_load::{CLAP_EXT_PRESET_LOAD, CLAP_EXT_PRESET_LOAD_COMPAT};
use clap_sys::ext::state_context::CLAP_EXT_STATE_CONTEXT;
use clap_sys::host::clap_host;
use clap_sys::plugin::clap_plugin;
use clap_sys::process::{CLAP_PROCESS_ERROR, clap_process, clap_process_status};

use super::host::Between;
use super::inlet::Inlet;
use super::menus::ClapMenus;
use super::outlet::ClapOutlet;
use super::params::{self, ControlIds};
use super::{indication, ports, presets, state};
use crate::free::Instance;
use crate::free::meeting;

/// What the host holds; it sees the first field alone.
#[repr(C)]
pub struct Wrapped {
    /// The framework's functions and its data, which is all that they look at
    /// when they are called with this plugin instead of their own.
    outer: clap_plugin,
    /// The framework's.
    pub inner: *const clap_plugin,
    /// What the framework's has for a host.
    pub between: Box<Between>,
    /// The controls by its parameters' ids.
    pub ids: ControlIds,
    /// The instance's free world, if it has told of it.
    pub desk: Option<Arc<Instance>>,
}

/// Wraps the plugin that `make` makes for a host; it is destroyed with its wrapping.
///
/// # Safety
/// `host` must be a whole host. What `make` gives must be a whole plugin that lives
/// until its `destroy` is called, and nobody else may call that.
pub unsafe fn wrap(
    host: *const clap_host,
    make: impl FnOnce(*const clap_host) -> *const clap_plugin,
) -> *const clap_plugin {
    // SAFETY: it is a whole host, and outlives its plugins (`plugin-factory.h`).
    let between = unsafe { Between::new(host) };
    let (met, inner) = meeting::making(|| make(between.seen()));
    // SAFETY: it is a whole plugin, says the caller.
    let (made, ids) = unsafe { (*inner, ControlIds::of(inner)) };
    let desk = met.map(|met| met.desk);
    if let Some(desk) = &desk {
        // SAFETY: as above.
        desk.host.has_menus(Box::new(unsafe { ClapMenus::of(host, ids.clone()) }));
    }
    let outer = clap_plugin {
        destroy: Some(destroy),
        activate: Some(activate),
        process: Some(process),
        get_extension: Some(get_extension),
        ..made
    };
    Box::into_raw(Box::new(Wrapped { outer, inner, between, ids, desk })).cast()
}

impl Wrapped {
    /// # Safety
    /// `plugin` must come from [`wrap`] and not be destroyed yet.
    pub unsafe fn of<'a>(plugin: *const clap_plugin) -> &'a Self {
        // SAFETY: `outer` is the first field of a `Wrapped` in C's layout, so that
        // its address is the whole's.
        unsafe { &*plugin.cast::<Self>() }
    }
}

/// The framework's plugin's answer to an extension.
///
/// # Safety
/// `plugin` must be whole, and `T` the table of `id`.
pub unsafe fn extension<'a, T>(plugin: *const clap_plugin, id: &CStr) -> Option<&'a T> {
    // SAFETY: as the caller says; the table lives as long as the plugin.
    unsafe { (*plugin).get_extension.and_then(|get| get(plugin, id.as_ptr()).cast::<T>().as_ref()) }
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

unsafe extern "C" fn activate(
    plugin: *const clap_plugin,
    rate: f64,
    least: u32,
    most: u32,
) -> bool {
    if plugin.is_null() {
        return false;
    }
    // SAFETY: the host passes a plugin that `wrap` gave it, on the main thread.
    unsafe {
        let Wrapped { inner, between, .. } = Wrapped::of(plugin);
        between.while_activating(|| {
            let activate = (**inner).activate?;
            if !activate(*inner, rate, least, most) {
                return None;
            }
            let latency = extension::<clap_plugin_latency>(*inner, CLAP_EXT_LATENCY)?.get?;
            Some(latency(*inner))
        })
    }
}

unsafe extern "C" fn get_extension(plugin: *const clap_plugin, id: *const c_char) -> *const c_void {
    if plugin.is_null() || id.is_null() {
        return std::ptr::null();
    }
    // SAFETY: the host passes a C string and a plugin that `wrap` gave it.
    unsafe {
        let id = CStr::from_ptr(id);
        if id == CLAP_EXT_NOTE_PORTS {
            (&raw const ports::PORTS).cast()
        } else if id == CLAP_EXT_PARAMS {
            (&raw const params::PARAMS).cast()
        } else if id == CLAP_EXT_PRESET_LOAD || id == CLAP_EXT_PRESET_LOAD_COMPAT {
            (&raw const presets::LOAD).cast()
        } else if id == CLAP_EXT_STATE_CONTEXT {
            (&raw const state::CONTEXT).cast()
        } else if id == CLAP_EXT_PARAM_INDICATION || id == CLAP_EXT_PARAM_INDICATION_COMPAT {
            (&raw const indication::INDICATION).cast()
        } else {
            let inner = Wrapped::of(plugin).inner;
            (*inner).get_extension.map_or(std::ptr::null(), |get| get(inner, id.as_ptr()))
        }
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
    // whole and its own until this returns; so are the lists that stand before the
    // host's.
    unsafe {
        let (Wrapped { inner, ids, .. }, mut block) = (Wrapped::of(plugin), *process);
        let inlet = Inlet::new(block.in_events, ids);
        let outlet = ClapOutlet::new(block.out_events, ids);
        let (events, out) = (inlet.list(), outlet.list());
        block.in_events = inlet.or_null(&events);
        block.out_events = outlet.or_null(&out);
        (**inner).process.map_or(CLAP_PROCESS_ERROR, |process| process(*inner, &raw const block))
    }
}
