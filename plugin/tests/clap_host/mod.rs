//! A small CLAP host in this process, which checks the rules of the format
//! (clap 1.2 headers, `plugin.h`, `events.h`, `process.h`) at every call.

// Hosts speak C, failing tests panic.
#![allow(dead_code, clippy::unwrap_used, clippy::panic, unsafe_code)]

mod browser;
mod callbacks;
mod events;
pub mod marks;
pub mod play;
pub mod state;
mod window;

pub use events::Event;

use callbacks::{get_extension, notes, request_callback, request_process, request_restart};

use std::cell::Cell;
use std::ffi::{CStr, CString, c_char, c_void};
use std::path::PathBuf;
use std::ptr::{null, null_mut};
use std::sync::atomic::{AtomicBool, Ordering::SeqCst};

use clap_sys::audio_buffer::clap_audio_buffer;
use clap_sys::entry::clap_plugin_entry;
use clap_sys::events::*;
use clap_sys::ext::gui::{CLAP_EXT_GUI, clap_host_gui};
use clap_sys::ext::latency::{CLAP_EXT_LATENCY, clap_host_latency, clap_plugin_latency};
use clap_sys::ext::note_ports::{CLAP_EXT_NOTE_PORTS, clap_note_port_info, clap_plugin_note_ports};
use clap_sys::ext::params::*;
use clap_sys::ext::render::{
    CLAP_EXT_RENDER, CLAP_RENDER_OFFLINE, CLAP_RENDER_REALTIME, clap_plugin_render,
};
use clap_sys::ext::state::{CLAP_EXT_STATE, clap_plugin_state};
use clap_sys::ext::thread_check::{CLAP_EXT_THREAD_CHECK, clap_host_thread_check};
use clap_sys::factory::plugin_factory::{CLAP_PLUGIN_FACTORY_ID, clap_plugin_factory};
use clap_sys::fixedpoint::{CLAP_BEATTIME_FACTOR, CLAP_SECTIME_FACTOR};
use clap_sys::host::clap_host;
use clap_sys::plugin::{clap_plugin, clap_plugin_descriptor};
use clap_sys::process::*;
use clap_sys::stream::{clap_istream, clap_ostream};
use clap_sys::version::CLAP_VERSION;

thread_local! {
    /// Whether this thread plays the audio thread just now.
    static ON_AUDIO: Cell<bool> = const { Cell::new(false) };
    /// Whether it is the one that made a plugin: the main thread, when not that.
    static MADE_IT: Cell<bool> = const { Cell::new(false) };
}

/// Whether this is the main thread just now.
fn on_main() -> bool {
    MADE_IT.get() && !ON_AUDIO.get()
}

/// The plugin's library as cargo built it beside this test.
pub fn library(name: &str) -> PathBuf {
    let test = std::env::current_exe().unwrap();
    let folder = test.parent().unwrap().parent().unwrap();
    let file = libloading::library_filename(name);
    // `deps` first: only there does a run of the tests alone leave a fresh one.
    [folder.join("deps").join(&file), folder.join("examples").join(&file), folder.join(&file)]
        .into_iter()
        .find(|path| path.exists())
        .unwrap_or_else(|| panic!("{} is not built", file.display()))
}

/// The clock of the host at the start of a block.
#[derive(Clone, Copy, Debug)]
pub struct Clock {
    pub playing: bool,
    /// `None`: the host counts no beats.
    pub beat: Option<f64>,
    pub seconds: Option<f64>,
    pub tempo: Option<f64>,
    pub metre: Option<(u16, u16)>,
    pub bar: f64,
    pub cycle: Option<(f64, f64)>,
}

impl Clock {
    pub fn at(beat: f64) -> Self {
        Self {
            playing: true,
            beat: Some(beat),
            seconds: None,
            tempo: Some(120.0),
            metre: Some((4, 4)),
            bar: (beat / 4.0).floor() * 4.0,
            cycle: None,
        }
    }

    pub fn stopped(beat: f64) -> Self {
        Self { playing: false, ..Self::at(beat) }
    }

    fn raw(&self, time: u32) -> clap_event_transport {
        let header = events::header::<clap_event_transport>(CLAP_EVENT_TRANSPORT, time);
        let beats = |beat: f64| (beat * CLAP_BEATTIME_FACTOR as f64).round() as i64;
        let seconds = |s: f64| (s * CLAP_SECTIME_FACTOR as f64).round() as i64;
        let flag = |on: bool, flag| if on { flag } else { 0 };
        let (start, end) = self.cycle.unwrap_or_default();
        let (num, denom) = self.metre.unwrap_or_default();
        clap_event_transport {
            header,
            flags: flag(self.playing, CLAP_TRANSPORT_IS_PLAYING)
                | flag(self.beat.is_some(), CLAP_TRANSPORT_HAS_BEATS_TIMELINE)
                | flag(self.seconds.is_some(), CLAP_TRANSPORT_HAS_SECONDS_TIMELINE)
                | flag(self.tempo.is_some(), CLAP_TRANSPORT_HAS_TEMPO)
                | flag(self.metre.is_some(), CLAP_TRANSPORT_HAS_TIME_SIGNATURE)
                | flag(self.cycle.is_some(), CLAP_TRANSPORT_IS_LOOP_ACTIVE),
            song_pos_beats: beats(self.beat.unwrap_or_default()),
            song_pos_seconds: seconds(self.seconds.unwrap_or_default()),
            tempo: self.tempo.unwrap_or_default(),
            tempo_inc: 0.0,
            loop_start_beats: beats(start),
            loop_end_beats: beats(end),
            loop_start_seconds: 0,
            loop_end_seconds: 0,
            bar_start: beats(self.bar),
            bar_number: (self.bar / 4.0) as i32,
            tsig_num: num,
            tsig_denom: denom,
        }
    }
}

/// A parameter as the host sees it.
#[derive(Clone, Debug)]
pub struct Param {
    pub id: u32,
    pub name: String,
    pub module: String,
    pub min: f64,
    pub max: f64,
    pub default: f64,
    pub flags: u32,
}

/// What a plugin says of itself.
#[derive(Clone, Debug, PartialEq)]
pub struct Description {
    pub version: (u32, u32, u32),
    pub id: String,
    pub name: String,
    pub vendor: String,
    pub release: String,
    pub features: Vec<String>,
}

impl Description {
    unsafe fn of(found: *const clap_plugin_descriptor) -> Self {
        unsafe {
            let found = &*found;
            let text = |text: *const c_char| CStr::from_ptr(text).to_str().unwrap().to_owned();
            let version = found.clap_version;
            let mut features = vec![];
            let mut next = found.features;
            while !(*next).is_null() {
                features.push(text(*next));
                next = next.add(1);
            }
            Self {
                version: (version.major, version.minor, version.revision),
                id: text(found.id),
                name: text(found.name),
                vendor: text(found.vendor),
                release: text(found.version),
                features,
            }
        }
    }
}

/// What the host's callbacks note down.
#[derive(Default)]
pub struct HostNotes {
    /// Any thread may want these two.
    callback_wanted: AtomicBool,
    restart_wanted: AtomicBool,
    pub rescans: Cell<u32>,
    pub latency_changes: Cell<u32>,
    /// Whether the plugin is being activated just now.
    activating: Cell<bool>,
    /// The key of the preset that was said to be loaded.
    pub loaded: Cell<String>,
    /// The parameter whose menu was asked for, and what was chosen of it.
    pub asked: Cell<Option<u32>>,
    pub chosen: Cell<Option<(u32, u32)>>,
}

/// A loaded plugin.
pub struct ClapHost {
    plugin: *const clap_plugin,
    entry: clap_plugin_entry,
    raw: Box<clap_host>,
    pub notes: Box<HostNotes>,
    active: bool,
    pub refuse: bool,
}

/// Anything that has to be told about audio ports; the plugin has none.
const NO_BUFFERS: *mut clap_audio_buffer = null_mut();

impl ClapHost {
    /// Sinistra.
    pub fn load() -> Self {
        Self::load_from("sinistra_plugin")
    }

    /// The only plugin of a library.
    pub fn load_from(name: &str) -> Self {
        let path = library(name);
        // Never unloaded: the plugin's threads may outlive the test.
        let library: &'static libloading::Library =
            Box::leak(Box::new(unsafe { libloading::Library::new(&path) }.unwrap()));
        let entry = unsafe { **library.get::<*const clap_plugin_entry>(b"clap_entry\0").unwrap() };
        Self::of(entry, path.to_str().unwrap())
    }

    /// The only plugin behind an entry, which is told that it lies at `path`.
    pub fn of(entry: clap_plugin_entry, path: &str) -> Self {
        let c_path = CString::new(path).unwrap();
        assert!(unsafe { entry.init.unwrap()(c_path.as_ptr()) });
        MADE_IT.set(true);
        let notes = Box::<HostNotes>::default();
        let raw = Box::new(clap_host {
            clap_version: CLAP_VERSION,
            host_data: (&raw const *notes).cast_mut().cast(),
            name: c"Test host".as_ptr(),
            vendor: c"".as_ptr(),
            url: c"".as_ptr(),
            version: c"1".as_ptr(),
            get_extension: Some(get_extension),
            request_restart: Some(request_restart),
            request_process: Some(request_process),
            request_callback: Some(request_callback),
        });
        let plugin = unsafe {
            let factory = factory(&entry);
            assert_eq!((*factory).get_plugin_count.unwrap()(factory), 1);
            let descriptor = (*factory).get_plugin_descriptor.unwrap()(factory, 0);
            (*factory).create_plugin.unwrap()(factory, &raw const *raw, (*descriptor).id)
        };
        assert!(!plugin.is_null());
        assert!(unsafe { (*plugin).init.unwrap()(plugin) });
        Self { plugin, entry, raw, notes, active: false, refuse: false }
    }

    /// What a host that scans sees of the plugin, and of the plugin's own copy.
    pub fn descriptions(&self) -> [Description; 2] {
        unsafe {
            let factory = factory(&self.entry);
            let scanned = (*factory).get_plugin_descriptor.unwrap()(factory, 0);
            [Description::of(scanned), Description::of((*self.plugin).desc)]
        }
    }

    /// Whether the library answers to what it cannot know.
    pub fn answers_to_nonsense(&self) -> bool {
        unsafe {
            let nothing = self.entry.get_factory.unwrap()(c"no such factory".as_ptr());
            let factory = factory(&self.entry);
            let beyond = (*factory).get_plugin_descriptor.unwrap()(factory, 1);
            let create = (*factory).create_plugin.unwrap();
            let unknown = create(factory, &raw const *self.raw, c"no such plugin".as_ptr());
            let nameless = create(factory, &raw const *self.raw, null());
            let extension = (*self.plugin).get_extension.unwrap();
            let strange = extension(self.plugin, c"no such extension".as_ptr());
            !nothing.is_null()
                || !beyond.is_null()
                || !unknown.is_null()
                || !nameless.is_null()
                || !strange.is_null()
        }
    }

    /// Another instance, made and destroyed without being initialised.
    pub fn make_and_destroy(&self) {
        unsafe {
            let factory = factory(&self.entry);
            let id = (*(*self.plugin).desc).id;
            let made = (*factory).create_plugin.unwrap()(factory, &raw const *self.raw, id);
            assert!(!made.is_null());
            (*made).destroy.unwrap()(made);
        }
    }

    /// Loaded, activated and started at 48 kHz, with roots on the beat.
    pub fn started() -> Self {
        let mut host = Self::load();
        host.begin();
        host
    }

    /// Activates and starts it likewise.
    pub fn begin(&mut self) {
        self.flush("Pattern", 1.0);
        self.start(48_000.0, 8192);
    }

    /// Whether the host renders, faster than time goes by.
    pub fn set_offline(&self, offline: bool) {
        let render: &clap_plugin_render = self.extension(CLAP_EXT_RENDER);
        let mode = if offline { CLAP_RENDER_OFFLINE } else { CLAP_RENDER_REALTIME };
        assert!(unsafe { render.set.unwrap()(self.plugin, mode) });
    }

    pub fn start(&mut self, rate: f64, most: u32) {
        unsafe {
            self.notes.activating.set(true);
            assert!((*self.plugin).activate.unwrap()(self.plugin, rate, 1, most));
            self.notes.activating.set(false);
            on_audio(|| assert!((*self.plugin).start_processing.unwrap()(self.plugin)));
        }
        self.active = true;
    }

    pub fn stop(&mut self) {
        if std::mem::take(&mut self.active) {
            unsafe {
                on_audio(|| (*self.plugin).stop_processing.unwrap()(self.plugin));
                (*self.plugin).deactivate.unwrap()(self.plugin);
            }
        }
    }

    pub fn reset(&self) {
        unsafe { on_audio(|| (*self.plugin).reset.unwrap()(self.plugin)) }
    }

    /// One block. Checks that what comes out is sorted and inside it.
    pub fn block(&self, frames: u32, clock: Option<Clock>, events: &[Event]) -> Vec<Event> {
        self.timed_block(frames, clock, events).0
    }

    /// The same with the time that `process` took.
    pub fn timed_block(
        &self,
        frames: u32,
        clock: Option<Clock>,
        events: &[Event],
    ) -> (Vec<Event>, std::time::Duration) {
        let transport = clock.map(|clock| clock.raw(0));
        let list = events::InputList::new(events);
        let mut taken = events::OutputList::new(frames, self.refuse);
        let (inputs, outputs) = (list.raw(), taken.raw());
        let process = clap_process {
            steady_time: -1,
            frames_count: frames,
            transport: transport.as_ref().map_or(null(), |t| &raw const *t),
            audio_inputs: NO_BUFFERS,
            audio_outputs: NO_BUFFERS,
            audio_inputs_count: 0,
            audio_outputs_count: 0,
            in_events: &raw const inputs,
            out_events: &raw const outputs,
        };
        let (status, time) = on_audio(|| {
            let start = std::time::Instant::now();
            let status =
                unsafe { (*self.plugin).process.unwrap()(self.plugin, &raw const process) };
            (status, start.elapsed())
        });
        assert_ne!(status, CLAP_PROCESS_ERROR);
        (taken.into_events(), time)
    }

    /// What the host does when the plugin asked for its main thread.
    pub fn idle(&self) {
        if self.notes.callback_wanted.swap(false, SeqCst) {
            unsafe { (*self.plugin).on_main_thread.unwrap()(self.plugin) }
        }
    }

    /// What the plugin reports, in frames.
    pub fn latency(&self) -> u32 {
        let latency: &clap_plugin_latency = self.extension(CLAP_EXT_LATENCY);
        unsafe { latency.get.unwrap()(self.plugin) }
    }

    /// Starts the plugin anew if it asked for that; whether it did.
    pub fn restart_if_wanted(&mut self, rate: f64) -> bool {
        self.idle();
        let wanted = self.notes.restart_wanted.swap(false, SeqCst);
        if wanted {
            self.stop();
            self.start(rate, 8192);
        }
        wanted
    }

    fn extension<T>(&self, id: &CStr) -> &T {
        let extension = unsafe { (*self.plugin).get_extension.unwrap()(self.plugin, id.as_ptr()) };
        assert!(!extension.is_null(), "{id:?}");
        unsafe { &*extension.cast() }
    }

    /// Ids and names of the note ports of one side.
    pub fn note_ports(&self, inputs: bool) -> Vec<(u32, String)> {
        let ports: &clap_plugin_note_ports = self.extension(CLAP_EXT_NOTE_PORTS);
        let count = unsafe { ports.count.unwrap()(self.plugin, inputs) };
        let port = |index| unsafe {
            let mut info: clap_note_port_info = std::mem::zeroed();
            assert!(ports.get.unwrap()(self.plugin, index, inputs, &mut info));
            assert_eq!(info.preferred_dialect.count_ones(), 1);
            assert_ne!(info.preferred_dialect & info.supported_dialects, 0);
            let name = CStr::from_ptr(info.name.as_ptr()).to_str().unwrap().to_owned();
            (info.id, name)
        };
        (0..count).map(port).collect()
    }

    pub fn params(&self) -> Vec<Param> {
        let params: &clap_plugin_params = self.extension(CLAP_EXT_PARAMS);
        let count = unsafe { params.count.unwrap()(self.plugin) };
        let text = |bytes: &[c_char]| {
            unsafe { CStr::from_ptr(bytes.as_ptr()) }.to_str().unwrap().to_owned()
        };
        (0..count)
            .map(|index| unsafe {
                let mut info: clap_param_info = std::mem::zeroed();
                assert!(params.get_info.unwrap()(self.plugin, index, &mut info));
                Param {
                    id: info.id,
                    name: text(&info.name),
                    module: text(&info.module),
                    min: info.min_value,
                    max: info.max_value,
                    default: info.default_value,
                    flags: info.flags,
                }
            })
            .collect()
    }

    pub fn param(&self, name: &str) -> Param {
        self.params().into_iter().find(|param| param.name == name).unwrap()
    }

    pub fn value(&self, id: u32) -> f64 {
        let params: &clap_plugin_params = self.extension(CLAP_EXT_PARAMS);
        let mut value = f64::NAN;
        assert!(unsafe { params.get_value.unwrap()(self.plugin, id, &mut value) });
        value
    }

    pub fn value_text(&self, id: u32, value: f64) -> String {
        let params: &clap_plugin_params = self.extension(CLAP_EXT_PARAMS);
        let mut text = [0 as c_char; 256];
        assert!(unsafe {
            params.value_to_text.unwrap()(self.plugin, id, value, text.as_mut_ptr(), 256)
        });
        unsafe { CStr::from_ptr(text.as_ptr()) }.to_str().unwrap().to_owned()
    }

    pub fn text_value(&self, id: u32, text: &str) -> Option<f64> {
        let params: &clap_plugin_params = self.extension(CLAP_EXT_PARAMS);
        let text = CString::new(text).unwrap();
        let mut value = f64::NAN;
        let ok =
            unsafe { params.text_to_value.unwrap()(self.plugin, id, text.as_ptr(), &mut value) };
        ok.then_some(value)
    }

    /// Sets a parameter by name, as automation does, in an empty block.
    pub fn set(&self, name: &str, value: f64) {
        let id = self.param(name).id;
        self.block(0, None, &[Event::Param { frame: 0, id, value }]);
        assert_eq!(self.value(id), value, "{name}");
    }

    /// Sets a parameter before anything was activated, as hosts flush.
    pub fn flush(&self, name: &str, value: f64) {
        let id = self.param(name).id;
        self.flush_all(&[Event::Param { frame: 0, id, value }]);
    }

    /// Flushes events outside of a block.
    pub fn flush_all(&self, list: &[Event]) {
        let params: &clap_plugin_params = self.extension(CLAP_EXT_PARAMS);
        let list = events::InputList::new(list);
        let mut out = events::OutputList::new(1, false);
        let (inputs, outputs) = (list.raw(), out.raw());
        unsafe { params.flush.unwrap()(self.plugin, &raw const inputs, &raw const outputs) }
    }
}

impl Drop for ClapHost {
    fn drop(&mut self) {
        self.stop();
        unsafe { (*self.plugin).destroy.unwrap()(self.plugin) };
    }
}

unsafe fn factory(entry: &clap_plugin_entry) -> *const clap_plugin_factory {
    unsafe { entry.get_factory.unwrap()(CLAP_PLUGIN_FACTORY_ID.as_ptr()) }.cast()
}

fn on_audio<T>(call: impl FnOnce() -> T) -> T {
    ON_AUDIO.set(true);
    let result = call();
    ON_AUDIO.set(false);
    result
}
