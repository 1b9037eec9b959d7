//! The parameters in the musician's numbers (clap 1.2, `ext/params.h`): a split of
//! 24 to 96, not of 0 to 72, and whole numbers whole.
//!
//! The framework counts every parameter from 0 and computes with 32 bits.
//! Upstream: its CLAP wrapper would have to use the plain range of `IntRange::
//! Linear`, round what has steps, and mark lists as such.

#![allow(unsafe_code, reason = "CLAP is an interface in C")]

use std::ffi::c_char;

use clap_sys::events::{clap_input_events, clap_output_events};
use clap_sys::ext::params::{
    CLAP_EXT_PARAMS, CLAP_PARAM_IS_ENUM, CLAP_PARAM_IS_STEPPED, clap_param_info, clap_plugin_params,
};
use clap_sys::id::clap_id;
use clap_sys::plugin::clap_plugin;
use sinistra_panel::control::{self, Control};

use super::inlet::Inlet;
use super::outlet::ClapOutlet;
use super::wrapping::{Wrapped, extension};

/// The controls by the parameters' ids; sorted.
#[derive(Clone, Default)]
pub struct ControlIds(Vec<(clap_id, Control)>);

impl ControlIds {
    /// Asks the framework's plugin for its parameters.
    ///
    /// # Safety
    /// `plugin` must be whole.
    pub unsafe fn of(plugin: *const clap_plugin) -> Self {
        // SAFETY: as the caller says; the table is that of its id.
        let params = unsafe { extension::<clap_plugin_params>(plugin, CLAP_EXT_PARAMS) };
        let Some((count, get)) = params.and_then(|params| params.count.zip(params.get_info)) else {
            return Self::default();
        };
        // SAFETY: as above; there is room for what is asked for.
        let of = |index| unsafe {
            let mut info: clap_param_info = std::mem::zeroed();
            let got = get(plugin, index, &raw mut info);
            got.then(|| Some((info.id, control(&info)?))).flatten()
        };
        let mut all: Vec<_> = (0..unsafe { count(plugin) }).filter_map(of).collect();
        all.sort_unstable_by_key(|(id, _)| *id);
        Self(all)
    }

    /// The control of a parameter. Real-time safe.
    pub fn control(&self, id: clap_id) -> Option<Control> {
        let found = self.0.binary_search_by_key(&id, |(id, _)| *id);
        found.ok().and_then(|n| self.0.get(n)).map(|(_, control)| *control)
    }

    /// The parameter of a control.
    pub fn id(&self, control: Control) -> Option<clap_id> {
        self.0.iter().find(|(_, its)| *its == control).map(|(id, _)| *id)
    }

    /// What a value of the framework's is counted from. Real-time safe.
    pub fn lowest(&self, id: clap_id) -> f64 {
        self.control(id).map_or(0.0, |control| control.spec().min.into())
    }
}

/// The control that a parameter is.
fn control(info: &clap_param_info) -> Option<Control> {
    let name = info.name.map(|letter| letter as u8);
    let name = std::ffi::CStr::from_bytes_until_nul(&name).ok()?.to_str().ok()?;
    control::ALL.into_iter().find(|control| control.spec().name == name)
}

/// Answers the host.
pub static PARAMS: clap_plugin_params = clap_plugin_params {
    count: Some(count),
    get_info: Some(get_info),
    get_value: Some(get_value),
    value_to_text: Some(value_to_text),
    text_to_value: Some(text_to_value),
    flush: Some(flush),
};

/// The framework's own answer.
///
/// # Safety
/// `plugin` must be a wrapping.
unsafe fn theirs<'a>(plugin: *const clap_plugin) -> Option<(&'a Wrapped, &'a clap_plugin_params)> {
    if plugin.is_null() {
        return None;
    }
    // SAFETY: it is a wrapping, which holds a whole plugin.
    unsafe {
        let wrapped = Wrapped::of(plugin);
        Some((wrapped, extension::<clap_plugin_params>(wrapped.inner, CLAP_EXT_PARAMS)?))
    }
}

unsafe extern "C" fn count(plugin: *const clap_plugin) -> u32 {
    // SAFETY: the host passes a plugin that it was given.
    unsafe {
        let Some((wrapped, params)) = theirs(plugin) else { return 0 };
        params.count.map_or(0, |count| count(wrapped.inner))
    }
}

unsafe extern "C" fn get_info(
    plugin: *const clap_plugin,
    index: u32,
    info: *mut clap_param_info,
) -> bool {
    // SAFETY: the host passes a plugin that it was given, and room.
    unsafe {
        let Some((wrapped, params)) = theirs(plugin) else { return false };
        // The framework takes the first index beyond the last for one more.
        if info.is_null() || index >= count(plugin) {
            return false;
        }
        if !params.get_info.is_some_and(|get| get(wrapped.inner, index, info)) {
            return false;
        }
        let info = &mut *info;
        if let Some(spec) = control(info).map(Control::spec) {
            info.min_value = spec.min.into();
            info.max_value = spec.max.into();
            info.default_value = spec.default.into();
            if spec.scale.is_list() && info.flags & CLAP_PARAM_IS_STEPPED != 0 {
                info.flags |= CLAP_PARAM_IS_ENUM;
            }
        } else {
            info.default_value = info.default_value.round();
        }
        true
    }
}

unsafe extern "C" fn get_value(plugin: *const clap_plugin, id: clap_id, value: *mut f64) -> bool {
    // SAFETY: the host passes a plugin that it was given, and room.
    unsafe {
        let Some((wrapped, params)) = theirs(plugin) else { return false };
        let got = params.get_value.is_some_and(|get| get(wrapped.inner, id, value));
        if got && !value.is_null() {
            *value = (*value).round() + wrapped.ids.lowest(id);
        }
        got
    }
}

unsafe extern "C" fn value_to_text(
    plugin: *const clap_plugin,
    id: clap_id,
    value: f64,
    text: *mut c_char,
    room: u32,
) -> bool {
    // SAFETY: the host passes a plugin that it was given, and room.
    unsafe {
        let Some((wrapped, params)) = theirs(plugin) else { return false };
        let value = (value - wrapped.ids.lowest(id)).round();
        params.value_to_text.is_some_and(|show| show(wrapped.inner, id, value, text, room))
    }
}

unsafe extern "C" fn text_to_value(
    plugin: *const clap_plugin,
    id: clap_id,
    text: *const c_char,
    value: *mut f64,
) -> bool {
    // SAFETY: the host passes a plugin that it was given, a text, and room.
    unsafe {
        let Some((wrapped, params)) = theirs(plugin) else { return false };
        let read = params.text_to_value.is_some_and(|read| read(wrapped.inner, id, text, value));
        if read && !value.is_null() {
            *value = (*value).round() + wrapped.ids.lowest(id);
        }
        read
    }
}

unsafe extern "C" fn flush(
    plugin: *const clap_plugin,
    events: *const clap_input_events,
    out: *const clap_output_events,
) {
    // SAFETY: the host passes a plugin that it was given, and lists that are its own
    // until this returns.
    unsafe {
        let Some((wrapped, params)) = theirs(plugin) else { return };
        let (inlet, outlet) =
            (Inlet::new(events, &wrapped.ids), ClapOutlet::new(out, &wrapped.ids));
        if let Some(flush) = params.flush {
            let (events, out) = (inlet.list(), outlet.list());
            flush(wrapped.inner, inlet.or_null(&events), outlet.or_null(&out));
        }
    }
}
