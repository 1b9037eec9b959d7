//! The CLAP's entry and factory, as hosts look for them (clap 1.2, `entry.h`,
//! `factory/plugin-factory.h`): the framework's, but for the wrapping.

#![allow(unsafe_code, reason = "CLAP is an interface in C")]

use std::ffi::{CStr, c_char, c_void};
use std::sync::{Arc, OnceLock};

use nice_plug::wrapper::clap::{
    CLAP_PLUGIN_FACTORY_ID, CLAP_VERSION, PluginDescriptor, Wrapper, clap_host, clap_plugin,
    clap_plugin_descriptor, clap_plugin_entry, clap_plugin_factory,
};
use nice_plug::wrapper::setup_logger;

use super::{presets, wrapping};
use crate::Sinistra;

/// Where hosts begin.
#[unsafe(no_mangle)]
#[used]
#[allow(non_upper_case_globals, reason = "the name is the format's")]
pub static clap_entry: clap_plugin_entry = clap_plugin_entry {
    clap_version: CLAP_VERSION,
    init: Some(init),
    deinit: Some(deinit),
    get_factory: Some(get_factory),
};

static FACTORY: clap_plugin_factory = clap_plugin_factory {
    get_plugin_count: Some(get_plugin_count),
    get_plugin_descriptor: Some(get_plugin_descriptor),
    create_plugin: Some(create_plugin),
};

fn descriptor() -> &'static PluginDescriptor {
    static DESCRIPTOR: OnceLock<PluginDescriptor> = OnceLock::new();
    DESCRIPTOR.get_or_init(PluginDescriptor::for_plugin::<Sinistra>)
}

extern "C" fn init(_path: *const c_char) -> bool {
    setup_logger::<Sinistra>();
    true
}

extern "C" fn deinit() {}

extern "C" fn get_factory(id: *const c_char) -> *const c_void {
    // SAFETY: the host passes a C string (`entry.h`); null was looked at.
    let id = if id.is_null() { c"" } else { unsafe { CStr::from_ptr(id) } };
    if id == CLAP_PLUGIN_FACTORY_ID {
        (&raw const FACTORY).cast()
    } else if presets::is_factory(id) {
        (&raw const presets::FACTORY).cast()
    } else {
        std::ptr::null()
    }
}

unsafe extern "C" fn get_plugin_count(_: *const clap_plugin_factory) -> u32 {
    1
}

unsafe extern "C" fn get_plugin_descriptor(
    _: *const clap_plugin_factory,
    index: u32,
) -> *const clap_plugin_descriptor {
    if index == 0 { descriptor().clap_plugin_descriptor() } else { std::ptr::null() }
}

unsafe extern "C" fn create_plugin(
    _: *const clap_plugin_factory,
    host: *const clap_host,
    id: *const c_char,
) -> *const clap_plugin {
    // SAFETY: the host passes a C string; null is looked at first.
    if host.is_null() || id.is_null() || unsafe { CStr::from_ptr(id) } != descriptor().clap_id() {
        return std::ptr::null();
    }
    let make = |host| {
        // SAFETY: it outlives the plugin, as the wrapping holds both.
        let made = unsafe { Wrapper::<Sinistra>::new(host) };
        let plugin = made.clap_plugin.as_ptr();
        // The plugin's `destroy` takes this count back.
        let _ = Arc::into_raw(made);
        plugin.cast_const()
    };
    // SAFETY: the host is whole; the plugin lives until its `destroy`.
    unsafe { wrapping::wrap(host, make) }
}
