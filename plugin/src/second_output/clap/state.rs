//! The state with a purpose (clap 1.2, `ext/state-context.h`): a preset keeps no chart,
//! no pattern text and no look, and leaves those that are there; a project keeps all.

#![allow(unsafe_code, reason = "CLAP is an interface in C")]

use std::ffi::c_void;

use clap_sys::ext::state::{CLAP_EXT_STATE, clap_plugin_state};
use clap_sys::ext::state_context::{
    CLAP_STATE_CONTEXT_FOR_PRESET, clap_plugin_state_context, clap_plugin_state_context_type,
};
use clap_sys::plugin::clap_plugin;
use clap_sys::stream::{clap_istream, clap_ostream};
use serde_json::Value;

use super::wrapping::{Wrapped, extension};

/// Answers the host.
pub static CONTEXT: clap_plugin_state_context =
    clap_plugin_state_context { save: Some(save), load: Some(load) };

/// The most bytes that a state may have.
const MOST: usize = 16 << 20;

/// The framework's state: a length and JSON.
pub struct ClapState(pub Value);

impl ClapState {
    /// As it is now.
    ///
    /// # Safety
    /// `inner` must be the framework's plugin; on the main thread.
    pub unsafe fn of(inner: *const clap_plugin) -> Option<Self> {
        let mut bytes: Vec<u8> = vec![];
        let stream = clap_ostream { ctx: (&raw mut bytes).cast(), write: Some(write) };
        // SAFETY: as the caller says; the stream lives until the call returns.
        let saved = unsafe {
            let save = extension::<clap_plugin_state>(inner, CLAP_EXT_STATE)?.save?;
            save(inner, &raw const stream)
        };
        saved.then(|| Self::read(&bytes)).flatten()
    }

    fn read(bytes: &[u8]) -> Option<Self> {
        let (length, json) = bytes.split_first_chunk::<8>()?;
        let length = usize::try_from(u64::from_le_bytes(*length)).ok()?;
        serde_json::from_slice(json.get(..length)?).ok().map(Self)
    }

    fn written(&self) -> Vec<u8> {
        let json = self.0.to_string();
        [&(json.len() as u64).to_le_bytes(), json.as_bytes()].concat()
    }

    /// Makes it the plugin's.
    ///
    /// # Safety
    /// As [`Self::of`].
    pub unsafe fn give(&self, inner: *const clap_plugin) -> bool {
        let bytes = self.written();
        let mut rest: &[u8] = &bytes;
        let stream = clap_istream { ctx: (&raw mut rest).cast(), read: Some(read) };
        // SAFETY: as the caller says; the stream lives until the call returns.
        unsafe {
            extension::<clap_plugin_state>(inner, CLAP_EXT_STATE)
                .and_then(|state| state.load)
                .is_some_and(|load| load(inner, &raw const stream))
        }
    }
}

unsafe extern "C" fn write(stream: *const clap_ostream, from: *const c_void, size: u64) -> i64 {
    // SAFETY: `ctx` is bytes of ours, and there are as many as is said.
    unsafe {
        let bytes = &mut *(*stream).ctx.cast::<Vec<u8>>();
        let Ok(length) = usize::try_from(size) else { return -1 };
        bytes.extend_from_slice(std::slice::from_raw_parts(from.cast(), length));
    }
    size as i64
}

unsafe extern "C" fn read(stream: *const clap_istream, to: *mut c_void, size: u64) -> i64 {
    // SAFETY: `ctx` is bytes of ours, and there is as much room as is said.
    unsafe {
        let rest = &mut *(*stream).ctx.cast::<&[u8]>();
        let length = rest.len().min(usize::try_from(size).unwrap_or(usize::MAX));
        let (now, later) = rest.split_at(length);
        std::ptr::copy_nonoverlapping(now.as_ptr(), to.cast(), length);
        *rest = later;
        length as i64
    }
}

unsafe extern "C" fn save(
    plugin: *const clap_plugin,
    stream: *const clap_ostream,
    purpose: clap_plugin_state_context_type,
) -> bool {
    if plugin.is_null() || stream.is_null() {
        return false;
    }
    // SAFETY: the host passes a plugin that it was given, and a stream, on the main
    // thread.
    unsafe {
        let Some(mut state) = ClapState::of(Wrapped::of(plugin).inner) else { return false };
        if purpose == CLAP_STATE_CONTEXT_FOR_PRESET {
            state.0["fields"] = Value::Object(serde_json::Map::new());
        }
        let bytes = state.written();
        let (Some(write), mut rest) = ((*stream).write, bytes.as_slice()) else { return false };
        while !rest.is_empty() {
            let written = write(stream, rest.as_ptr().cast(), rest.len() as u64);
            let Ok(written @ 1..) = usize::try_from(written) else { return false };
            rest = rest.get(written..).unwrap_or_default();
        }
        true
    }
}

unsafe extern "C" fn load(
    plugin: *const clap_plugin,
    stream: *const clap_istream,
    purpose: clap_plugin_state_context_type,
) -> bool {
    if plugin.is_null() || stream.is_null() {
        return false;
    }
    // SAFETY: as in `save`; there is room for what is read.
    unsafe {
        let inner = Wrapped::of(plugin).inner;
        let Some(read) = (*stream).read else { return false };
        let (mut bytes, mut piece) = (vec![], [0u8; 4096]);
        loop {
            match read(stream, piece.as_mut_ptr().cast(), piece.len() as u64) {
                0 => break,
                length if length > 0 && bytes.len() < MOST => {
                    bytes.extend_from_slice(piece.get(..length as usize).unwrap_or_default());
                }
                _ => return false,
            }
        }
        let Some(mut state) = ClapState::read(&bytes) else { return false };
        if purpose == CLAP_STATE_CONTEXT_FOR_PRESET
            && let Some(now) = ClapState::of(inner)
        {
            state.0["fields"] = now.0["fields"].clone();
        }
        state.give(inner)
    }
}
