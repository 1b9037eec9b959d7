//! The presets in the host's browser: found (clap 1.2, `factory/preset-discovery.h`)
//! and loaded (`ext/preset-load.h`). They lie within the plugin, not in files.

#![allow(unsafe_code, reason = "CLAP is an interface in C")]

use std::ffi::{CStr, CString, c_char, c_void};
use std::ptr::null;

use clap_sys::ext::preset_load::clap_plugin_preset_load;
use clap_sys::factory::preset_discovery::*;
use clap_sys::plugin::clap_plugin;
use clap_sys::universal_plugin_id::clap_universal_plugin_id;
use clap_sys::version::CLAP_VERSION;
use nice_plug::prelude::ClapPlugin;
use serde_json::json;
use sinistra_panel::control::ControlScale;

use super::state::ClapState;
use super::wrapping::Wrapped;
use crate::Sinistra;
use crate::presets::{Preset, presets};

/// What the entry gives for the factory's ids.
pub static FACTORY: clap_preset_discovery_factory = clap_preset_discovery_factory {
    count: Some(count),
    get_descriptor: Some(get_descriptor),
    create: Some(create),
};

/// The extension that loads.
pub static LOAD: clap_plugin_preset_load =
    clap_plugin_preset_load { from_location: Some(from_location) };

static PROVIDER: clap_preset_discovery_provider_descriptor =
    clap_preset_discovery_provider_descriptor {
        clap_version: CLAP_VERSION,
        id: ID.as_ptr(),
        name: c"Sinistra".as_ptr(),
        vendor: VENDOR.as_ptr(),
    };
const ID: &CStr = c"sinistra.presets";
const VENDOR: &CStr = c"The Sinistra authors";

unsafe extern "C" fn count(_: *const clap_preset_discovery_factory) -> u32 {
    1
}

unsafe extern "C" fn get_descriptor(
    _: *const clap_preset_discovery_factory,
    index: u32,
) -> *const clap_preset_discovery_provider_descriptor {
    if index == 0 { &raw const PROVIDER } else { null() }
}

unsafe extern "C" fn create(
    _: *const clap_preset_discovery_factory,
    indexer: *const clap_preset_discovery_indexer,
    id: *const c_char,
) -> *const clap_preset_discovery_provider {
    // SAFETY: the host passes a C string; null is looked at first.
    if indexer.is_null() || id.is_null() || unsafe { CStr::from_ptr(id) } != ID {
        return null();
    }
    Box::into_raw(Box::new(clap_preset_discovery_provider {
        desc: &raw const PROVIDER,
        provider_data: indexer.cast_mut().cast(),
        init: Some(init),
        destroy: Some(destroy),
        get_metadata: Some(get_metadata),
        get_extension: Some(get_extension),
    }))
}

unsafe extern "C" fn init(provider: *const clap_preset_discovery_provider) -> bool {
    // SAFETY: a provider of `create`, whose indexer outlives it.
    unsafe {
        let indexer = (*provider).provider_data.cast::<clap_preset_discovery_indexer>();
        let location = clap_preset_discovery_location {
            flags: CLAP_PRESET_DISCOVERY_IS_FACTORY_CONTENT,
            name: c"Sinistra".as_ptr(),
            kind: CLAP_PRESET_DISCOVERY_LOCATION_PLUGIN,
            location: null(),
        };
        (*indexer).declare_location.is_some_and(|declare| declare(indexer, &raw const location))
    }
}

unsafe extern "C" fn destroy(provider: *const clap_preset_discovery_provider) {
    if !provider.is_null() {
        // SAFETY: a provider of `create`, which the host destroys once.
        drop(unsafe { Box::from_raw(provider.cast_mut()) });
    }
}

unsafe extern "C" fn get_extension(
    _: *const clap_preset_discovery_provider,
    _: *const c_char,
) -> *const c_void {
    null()
}

unsafe extern "C" fn get_metadata(
    _: *const clap_preset_discovery_provider,
    kind: clap_preset_discovery_location_kind,
    _: *const c_char,
    to: *const clap_preset_discovery_metadata_receiver,
) -> bool {
    if kind != CLAP_PRESET_DISCOVERY_LOCATION_PLUGIN || to.is_null() {
        return false;
    }
    // SAFETY: the host passes a whole receiver.
    presets().iter().all(|preset| unsafe { tell(preset, to) })
}

/// # Safety
/// `to` must be a whole receiver.
unsafe fn tell(preset: &Preset, to: *const clap_preset_discovery_metadata_receiver) -> bool {
    let text = |text: &str| CString::new(text).unwrap_or_default();
    let (name, key, about) = (text(&preset.name), text(&preset.key), text(&preset.about));
    // SAFETY: the receiver is whole, says the caller; texts live until it has them.
    unsafe {
        let receiver = &*to;
        let begun =
            receiver.begin_preset.is_some_and(|begin| begin(to, name.as_ptr(), key.as_ptr()));
        if !begun {
            return false; // it has enough
        }
        let id = text(Sinistra::CLAP_ID);
        let plugin = clap_universal_plugin_id { abi: c"clap".as_ptr(), id: id.as_ptr() };
        if let Some(add) = receiver.add_plugin_id {
            add(to, &raw const plugin);
        }
        if let Some(set) = receiver.set_flags {
            set(to, CLAP_PRESET_DISCOVERY_IS_FACTORY_CONTENT);
        }
        if let Some(add) = receiver.add_creator {
            add(to, VENDOR.as_ptr());
        }
        if let Some(set) = receiver.set_description {
            set(to, about.as_ptr());
        }
        for tag in &preset.tags {
            if let Some(add) = receiver.add_feature {
                add(to, text(tag).as_ptr());
            }
        }
        true
    }
}

unsafe extern "C" fn from_location(
    plugin: *const clap_plugin,
    kind: clap_preset_discovery_location_kind,
    location: *const c_char,
    key: *const c_char,
) -> bool {
    if plugin.is_null() || key.is_null() || kind != CLAP_PRESET_DISCOVERY_LOCATION_PLUGIN {
        return false;
    }
    // SAFETY: the host passes a plugin that it was given and a C string, on the main
    // thread.
    unsafe {
        let wrapped = Wrapped::of(plugin);
        let named = CStr::from_ptr(key).to_str().unwrap_or_default();
        let found = presets().into_iter().find(|preset| preset.key == named);
        let (Some(preset), Some(mut state)) = (found, ClapState::of(wrapped.inner)) else {
            return false;
        };
        for (control, value) in preset.values {
            let spec = control.spec();
            state.0["params"][spec.id] = match spec.scale {
                ControlScale::Switch => json!({ "bool": value != 0 }),
                _ => json!({ "i32": value }),
            };
        }
        let loaded = state.give(wrapped.inner);
        if loaded {
            wrapped.between.preset_loaded(kind, location, key);
        }
        loaded
    }
}

/// For hosts that know the factory by its older name.
pub fn is_factory(id: &CStr) -> bool {
    id == CLAP_PRESET_DISCOVERY_FACTORY_ID || id == CLAP_PRESET_DISCOVERY_FACTORY_ID_COMPAT
}
