//! What the plugin may call.

use super::*;

pub unsafe fn notes<'a>(host: *const clap_host) -> &'a HostNotes {
    unsafe { &*(*host).host_data.cast::<HostNotes>() }
}

pub unsafe extern "C" fn request_restart(host: *const clap_host) {
    unsafe { notes(host) }.restart_wanted.store(true, SeqCst);
}

pub unsafe extern "C" fn request_process(_: *const clap_host) {}

pub unsafe extern "C" fn request_callback(host: *const clap_host) {
    unsafe { notes(host) }.callback_wanted.store(true, SeqCst);
}

pub unsafe extern "C" fn get_extension(_: *const clap_host, id: *const c_char) -> *const c_void {
    static THREADS: clap_host_thread_check =
        clap_host_thread_check { is_main_thread: Some(is_main), is_audio_thread: Some(is_audio) };
    static PARAMS: clap_host_params = clap_host_params {
        rescan: Some(rescan),
        clear: Some(clear),
        request_flush: Some(request_flush),
    };
    static LATENCY: clap_host_latency = clap_host_latency { changed: Some(latency_changed) };
    static GUI: clap_host_gui = window::CALLBACKS;
    let id = unsafe { CStr::from_ptr(id) };
    if id == CLAP_EXT_THREAD_CHECK {
        (&raw const THREADS).cast()
    } else if id == CLAP_EXT_PARAMS {
        (&raw const PARAMS).cast()
    } else if id == CLAP_EXT_LATENCY {
        (&raw const LATENCY).cast()
    } else if id == CLAP_EXT_GUI {
        (&raw const GUI).cast()
    } else if id == clap_sys::ext::context_menu::CLAP_EXT_CONTEXT_MENU {
        (&raw const marks::MENUS).cast()
    } else if id == clap_sys::ext::preset_load::CLAP_EXT_PRESET_LOAD {
        (&raw const browser::LOADED).cast()
    } else {
        null()
    }
}

unsafe extern "C" fn is_main(_: *const clap_host) -> bool {
    on_main()
}

unsafe extern "C" fn is_audio(_: *const clap_host) -> bool {
    ON_AUDIO.get()
}

unsafe extern "C" fn rescan(host: *const clap_host, _: clap_param_rescan_flags) {
    assert!(on_main(), "params.rescan() is [main-thread]");
    let notes = unsafe { notes(host) };
    notes.rescans.set(notes.rescans.get() + 1);
}

unsafe extern "C" fn clear(_: *const clap_host, _: u32, _: clap_param_clear_flags) {}

unsafe extern "C" fn request_flush(_: *const clap_host) {
    assert!(!ON_AUDIO.get(), "params.request_flush() is [!audio-thread]");
}

unsafe extern "C" fn latency_changed(host: *const clap_host) {
    assert!(on_main(), "latency.changed() is [main-thread]");
    let notes = unsafe { notes(host) };
    assert!(notes.activating.get(), "latency.changed() is [being-activated]");
    notes.latency_changes.set(notes.latency_changes.get() + 1);
}
