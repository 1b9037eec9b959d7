//! The host as the framework's plugin sees it: the host's own, but for when the
//! latency is told and the plugin is asked to be started anew.
//!
//! The latency of a CLAP changes within `activate` and nowhere else (clap 1.2,
//! `ext/latency.h`). The framework tells of it too early (a plugin that is turned
//! off just now), and asks to be started anew for what `activate` has just told.
//! Upstream: nice-plug's `Task::LatencyChanged` would have to leave both to
//! `activate`.

#![allow(unsafe_code, reason = "CLAP is an interface in C")]

use std::ffi::{CStr, c_char, c_void};
use std::ptr::null;
use std::sync::atomic::Ordering::Relaxed;
use std::sync::atomic::{AtomicBool, AtomicPtr, AtomicU32};

use clap_sys::ext::gui::{CLAP_EXT_GUI, clap_host_gui};
use clap_sys::ext::latency::{CLAP_EXT_LATENCY, clap_host_latency};
use clap_sys::ext::params::{
    CLAP_EXT_PARAMS, clap_host_params, clap_param_clear_flags, clap_param_rescan_flags,
};
use clap_sys::ext::preset_load::{CLAP_EXT_PRESET_LOAD, clap_host_preset_load};
use clap_sys::ext::thread_check::{CLAP_EXT_THREAD_CHECK, clap_host_thread_check};
use clap_sys::ext::track_info::{CLAP_EXT_TRACK_INFO, clap_host_track_info, clap_track_info};
use clap_sys::host::clap_host;
use clap_sys::id::clap_id;

/// Stands between the host and the framework's plugin.
#[repr(C)]
pub struct Between {
    /// What the plugin is given; it sees this field alone.
    seen: clap_host,
    host: *const clap_host,
    /// Whether the plugin is being activated just now.
    activating: AtomicBool,
    /// The latency that the host was told last, in frames.
    told: AtomicU32,
    /// The host's extensions, as the plugin asked for them.
    found: [AtomicPtr<c_void>; EXTENSIONS.len()],
}

/// The extensions of the host that the framework may use.
const EXTENSIONS: [&CStr; 5] =
    [CLAP_EXT_PARAMS, CLAP_EXT_GUI, CLAP_EXT_TRACK_INFO, CLAP_EXT_THREAD_CHECK, CLAP_EXT_LATENCY];
const PARAMS: usize = 0;
const GUI: usize = 1;
const TRACK: usize = 2;
const THREADS: usize = 3;
const LATENCY: usize = 4;

impl Between {
    /// Before `host`, which must outlive it (`plugin-factory.h`).
    ///
    /// # Safety
    /// `host` must be a whole host.
    pub unsafe fn new(host: *const clap_host) -> Box<Self> {
        // SAFETY: it is whole, says the caller.
        let theirs = unsafe { *host };
        let seen = clap_host {
            host_data: std::ptr::null_mut(),
            get_extension: Some(get_extension),
            request_restart: Some(request_restart),
            request_process: Some(request_process),
            request_callback: Some(request_callback),
            ..theirs
        };
        Box::new(Self {
            seen,
            host,
            activating: false.into(),
            told: 0.into(),
            found: Default::default(),
        })
    }

    /// What the framework's plugin is made with.
    pub fn seen(&self) -> *const clap_host {
        &raw const self.seen
    }

    /// Activates the plugin by `start`, and tells the host of the latency that
    /// it has from then on, if that is another one.
    ///
    /// # Safety
    /// On the main thread, as `activate`.
    pub unsafe fn while_activating(&self, start: impl FnOnce() -> Option<u32>) -> bool {
        self.activating.store(true, Relaxed);
        let latency = start();
        self.activating.store(false, Relaxed);
        if let Some(latency) = latency
            && self.told.swap(latency, Relaxed) != latency
            // SAFETY: an extension of the host's, and the host.
            && let Some(changed) = unsafe { self.extension::<clap_host_latency>(LATENCY) }
                .and_then(|latency| latency.changed)
        {
            // SAFETY: on the main thread, being activated.
            unsafe { changed(self.host) };
        }
        latency.is_some()
    }

    /// Tells the host that a preset is loaded.
    ///
    /// # Safety
    /// On the main thread, with what the host passed.
    pub unsafe fn preset_loaded(&self, kind: u32, location: *const c_char, key: *const c_char) {
        // SAFETY: the host's own table, and what it passed.
        unsafe {
            let table = (*self.host).get_extension.map(|get| {
                get(self.host, CLAP_EXT_PRESET_LOAD.as_ptr()).cast::<clap_host_preset_load>()
            });
            let loaded = table.and_then(|table| table.as_ref()).and_then(|table| table.loaded);
            if let Some(loaded) = loaded {
                loaded(self.host, kind, location, key);
            }
        }
    }

    /// An extension of the host's.
    ///
    /// # Safety
    /// `T` must be its table.
    unsafe fn extension<T>(&self, index: usize) -> Option<&T> {
        let found = self.found.get(index)?;
        if found.load(Relaxed).is_null() {
            // SAFETY: the host outlives its plugins; the id is a C string.
            let asked = unsafe { (*self.host).get_extension }?;
            let theirs = unsafe { asked(self.host, EXTENSIONS.get(index)?.as_ptr()) };
            found.store(theirs.cast_mut(), Relaxed);
        }
        // SAFETY: null, or the host's table, which lives as long as the host.
        unsafe { found.load(Relaxed).cast::<T>().as_ref() }
    }
}

/// # Safety
/// `host` must be what [`Between::seen`] gave.
unsafe fn between<'a>(host: *const clap_host) -> &'a Between {
    // SAFETY: `seen` is the first field of a `Between` in C's layout.
    unsafe { &*host.cast::<Between>() }
}

unsafe extern "C" fn get_extension(host: *const clap_host, id: *const c_char) -> *const c_void {
    if host.is_null() || id.is_null() {
        return null();
    }
    // SAFETY: the framework passes a C string and what it was made with.
    let (between, id) = unsafe { (between(host), CStr::from_ptr(id)) };
    let Some(index) = EXTENSIONS.iter().position(|known| *known == id) else { return null() };
    // SAFETY: only whether it is there is looked at.
    if unsafe { between.extension::<c_void>(index) }.is_none() {
        return null();
    }
    match index {
        PARAMS => (&raw const TO_PARAMS).cast(),
        GUI => (&raw const TO_GUI).cast(),
        TRACK => (&raw const TO_TRACK).cast(),
        THREADS => (&raw const TO_THREADS).cast(),
        _ => (&raw const TO_LATENCY).cast(),
    }
}

unsafe extern "C" fn request_restart(host: *const clap_host) {
    // SAFETY: what the framework was made with, before the host's.
    unsafe {
        let between = between(host);
        if let (false, Some(request)) =
            (between.activating.load(Relaxed), (*between.host).request_restart)
        {
            request(between.host);
        }
    }
}

unsafe extern "C" fn request_process(host: *const clap_host) {
    // SAFETY: as above.
    unsafe {
        let host = between(host).host;
        if let Some(request) = (*host).request_process {
            request(host);
        }
    }
}

unsafe extern "C" fn request_callback(host: *const clap_host) {
    // SAFETY: as above.
    unsafe {
        let host = between(host).host;
        if let Some(request) = (*host).request_callback {
            request(host);
        }
    }
}

/// Functions of a table that call the host's with the host.
macro_rules! to_the_host {
    ($index:ident $table:ty: $($name:ident $field:ident($($value:ident: $type:ty),*) -> $result:ty = $without:expr;)*) => {$(
        unsafe extern "C" fn $name(host: *const clap_host, $($value: $type),*) -> $result {
            // SAFETY: the framework passes what it was made with, and to the host
            // goes what came.
            unsafe {
                let between = between(host);
                let call = between.extension::<$table>($index).and_then(|table| table.$field);
                call.map_or($without, |call| call(between.host, $($value),*))
            }
        }
    )*};
}

to_the_host! { PARAMS clap_host_params:
    rescan rescan(flags: clap_param_rescan_flags) -> () = ();
    clear clear(id: clap_id, flags: clap_param_clear_flags) -> () = ();
    request_flush request_flush() -> () = ();
}
to_the_host! { GUI clap_host_gui:
    hints_changed resize_hints_changed() -> () = ();
    request_resize request_resize(width: u32, height: u32) -> bool = false;
    request_show request_show() -> bool = false;
    request_hide request_hide() -> bool = false;
    gui_closed closed(destroyed: bool) -> () = ();
}
to_the_host! { TRACK clap_host_track_info:
    track_info get(info: *mut clap_track_info) -> bool = false;
}
to_the_host! { THREADS clap_host_thread_check:
    is_main_thread is_main_thread() -> bool = true;
    is_audio_thread is_audio_thread() -> bool = true;
}

static TO_PARAMS: clap_host_params = clap_host_params {
    rescan: Some(rescan),
    clear: Some(clear),
    request_flush: Some(request_flush),
};
static TO_GUI: clap_host_gui = clap_host_gui {
    resize_hints_changed: Some(hints_changed),
    request_resize: Some(request_resize),
    request_show: Some(request_show),
    request_hide: Some(request_hide),
    closed: Some(gui_closed),
};
static TO_TRACK: clap_host_track_info = clap_host_track_info { get: Some(track_info) };
static TO_THREADS: clap_host_thread_check = clap_host_thread_check {
    is_main_thread: Some(is_main_thread),
    is_audio_thread: Some(is_audio_thread),
};
/// The latency is told by [`Between::while_activating`].
static TO_LATENCY: clap_host_latency = clap_host_latency { changed: Some(not_yet) };

unsafe extern "C" fn not_yet(_: *const clap_host) {}
