//! The host's browser: finds presets (`factory/preset-discovery.h`), loads them
//! (`ext/preset-load.h`), and saves and loads states for a purpose
//! (`ext/state-context.h`).

use std::ffi::{CStr, CString, c_char};
use std::ptr::null;

use clap_sys::ext::preset_load::*;
use clap_sys::ext::state_context::*;
use clap_sys::factory::preset_discovery::*;
use clap_sys::host::clap_host;
use clap_sys::stream::{clap_istream, clap_ostream};
use clap_sys::universal_plugin_id::clap_universal_plugin_id;
use clap_sys::version::CLAP_VERSION;

use super::ClapHost;
use super::state::{read, write};

/// A preset as it is found.
#[derive(Clone, Debug, Default)]
pub struct Found {
    pub key: String,
    pub name: String,
    pub about: String,
    pub plugin: String,
    pub tags: Vec<String>,
}

type MetadataReceiver = clap_preset_discovery_metadata_receiver;
type Indexer = clap_preset_discovery_indexer;

pub static LOADED: clap_host_preset_load =
    clap_host_preset_load { on_error: None, loaded: Some(loaded) };

unsafe extern "C" fn loaded(host: *const clap_host, _: u32, _: *const c_char, key: *const c_char) {
    unsafe { super::notes(host) }.loaded.set(text(key));
}

fn text(text: *const c_char) -> String {
    unsafe { CStr::from_ptr(text) }.to_str().unwrap().to_owned()
}

unsafe fn found<'a>(to: *const MetadataReceiver) -> &'a mut Vec<Found> {
    unsafe { &mut *(*to).receiver_data.cast() }
}

unsafe extern "C" fn begin(
    to: *const MetadataReceiver,
    name: *const c_char,
    key: *const c_char,
) -> bool {
    unsafe { found(to) }.push(Found { name: text(name), key: text(key), ..Found::default() });
    true
}

unsafe extern "C" fn plugin(to: *const MetadataReceiver, id: *const clap_universal_plugin_id) {
    unsafe {
        assert_eq!(text((*id).abi), "clap");
        found(to).last_mut().unwrap().plugin = text((*id).id);
    }
}

unsafe extern "C" fn about(to: *const MetadataReceiver, said: *const c_char) {
    unsafe { found(to) }.last_mut().unwrap().about = text(said);
}

unsafe extern "C" fn tag(to: *const MetadataReceiver, said: *const c_char) {
    unsafe { found(to) }.last_mut().unwrap().tags.push(text(said));
}

unsafe extern "C" fn flags(_: *const MetadataReceiver, flags: u32) {
    assert_eq!(flags, CLAP_PRESET_DISCOVERY_IS_FACTORY_CONTENT);
}

unsafe extern "C" fn location(
    _: *const Indexer,
    location: *const clap_preset_discovery_location,
) -> bool {
    unsafe {
        assert_eq!((*location).kind, CLAP_PRESET_DISCOVERY_LOCATION_PLUGIN);
        assert!((*location).location.is_null());
    }
    true
}

impl ClapHost {
    /// What the plugin's library offers.
    pub fn presets(&self) -> Vec<Found> {
        let mut all: Vec<Found> = vec![];
        let indexer = Indexer {
            clap_version: CLAP_VERSION,
            name: c"Test".as_ptr(),
            vendor: c"".as_ptr(),
            url: c"".as_ptr(),
            version: c"1".as_ptr(),
            indexer_data: std::ptr::null_mut(),
            declare_filetype: None,
            declare_location: Some(location),
            declare_soundpack: None,
            get_extension: None,
        };
        let receiver = MetadataReceiver {
            receiver_data: (&raw mut all).cast(),
            on_error: None,
            begin_preset: Some(begin),
            add_plugin_id: Some(plugin),
            set_soundpack_id: None,
            set_flags: Some(flags),
            add_creator: None,
            set_description: Some(about),
            set_timestamps: None,
            add_feature: Some(tag),
            add_extra_info: None,
        };
        unsafe {
            let factory =
                self.entry.get_factory.unwrap()(CLAP_PRESET_DISCOVERY_FACTORY_ID.as_ptr())
                    .cast::<clap_preset_discovery_factory>();
            assert_eq!((*factory).count.unwrap()(factory), 1);
            let descriptor = (*factory).get_descriptor.unwrap()(factory, 0);
            let make = (*factory).create.unwrap();
            assert!(make(factory, &raw const indexer, c"another".as_ptr()).is_null());
            let provider = make(factory, &raw const indexer, (*descriptor).id);
            assert!((*provider).init.unwrap()(provider));
            let get = (*provider).get_metadata.unwrap();
            let kind = CLAP_PRESET_DISCOVERY_LOCATION_PLUGIN;
            assert!(get(provider, kind, null(), &raw const receiver));
            (*provider).destroy.unwrap()(provider);
        }
        all
    }

    pub fn load_preset(&self, key: &str) -> bool {
        let load: &clap_plugin_preset_load = self.extension(CLAP_EXT_PRESET_LOAD);
        let key = CString::new(key).unwrap();
        let kind = CLAP_PRESET_DISCOVERY_LOCATION_PLUGIN;
        unsafe { load.from_location.unwrap()(self.plugin, kind, null(), key.as_ptr()) }
    }

    /// A state for a purpose: 1 a preset, 2 a copy, 3 a project.
    pub fn save_for(&self, purpose: u32) -> Vec<u8> {
        let state: &clap_plugin_state_context = self.extension(CLAP_EXT_STATE_CONTEXT);
        let mut taken: (Vec<u8>, usize) = (vec![], 13);
        let stream = clap_ostream { ctx: (&raw mut taken).cast(), write: Some(write) };
        assert!(unsafe { state.save.unwrap()(self.plugin, &raw const stream, purpose) });
        taken.0
    }

    pub fn load_for(&self, bytes: &[u8], purpose: u32) -> bool {
        let state: &clap_plugin_state_context = self.extension(CLAP_EXT_STATE_CONTEXT);
        let mut given: (&[u8], usize) = (bytes, 13);
        let stream = clap_istream { ctx: (&raw mut given).cast(), read: Some(read) };
        unsafe { state.load.unwrap()(self.plugin, &raw const stream, purpose) }
    }
}
