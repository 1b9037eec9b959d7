//! A small VST3 host in this process (VST 3 interfaces: `ivsteditcontroller.h`,
//! `ivstaudioprocessor.h`, `ivstcomponent.h`).

// The types of C enums differ from system to system.
#![allow(dead_code, clippy::unwrap_used, clippy::panic, clippy::unnecessary_cast, unsafe_code)]

use std::cell::RefCell;
use std::ffi::c_void;
use std::ptr::null_mut;
use std::sync::Mutex;

use vst3::Steinberg::Vst::Event_::EventTypes_::*;
use vst3::Steinberg::Vst::ProcessContext_::StatesAndFlags_::*;
use vst3::Steinberg::Vst::*;
use vst3::Steinberg::*;
use vst3::{Class, ComPtr, ComWrapper, Interface};

/// Controllers with a number: 0 to 127, channel pressure, bend (`kCountCtrlNumber`
/// of `ivstmidicontrollers.h`).
pub const CONTROLLERS: usize = 130;

/// What came out: frame, and the message as plain values.
#[derive(Clone, Debug, PartialEq)]
pub enum Out {
    /// Frame, channel, key.
    On(i32, i16, i16),
    Off(i32, i16, i16),
    /// A note on or off at the second output.
    Apart(i32, bool, i16, i16),
    Control(i32, u8, i8),
    SysEx(i32, Vec<u8>),
    /// Of a type that no test looks into.
    Other(i32),
}

impl Out {
    /// Whether a note goes on or off, and where: output, channel, key.
    pub fn note(&self) -> Option<(bool, (u8, i16, i16))> {
        match *self {
            Self::On(_, channel, key) => Some((true, (0, channel, key))),
            Self::Off(_, channel, key) => Some((false, (0, channel, key))),
            Self::Apart(_, on, channel, key) => Some((on, (1, channel, key))),
            _ => None,
        }
    }
}

/// An event list of the host's, for both ways.
#[derive(Default)]
struct List {
    events: Vec<Event>,
    /// Full from the start.
    refuses: bool,
    out: RefCell<Vec<Out>>,
    /// The ids of the notes that came out.
    ids: RefCell<Vec<i32>>,
}

impl Class for List {
    type Interfaces = (IEventList,);
}

impl IEventListTrait for List {
    unsafe fn getEventCount(&self) -> int32 {
        self.events.len() as int32
    }

    unsafe fn getEvent(&self, index: int32, event: *mut Event) -> tresult {
        unsafe { *event = self.events[index as usize] };
        kResultOk
    }

    unsafe fn addEvent(&self, event: *mut Event) -> tresult {
        if self.refuses {
            return kResultFalse;
        }
        let event = unsafe { *event };
        let frame = event.sampleOffset;
        let kind = u32::from(event.r#type);
        let out = unsafe {
            if kind == kNoteOnEvent as u32 {
                let note = event.__field0.noteOn;
                self.ids.borrow_mut().push(note.noteId);
                note_out(&event, true, note.channel, note.pitch)
            } else if kind == kNoteOffEvent as u32 {
                let note = event.__field0.noteOff;
                self.ids.borrow_mut().push(note.noteId);
                note_out(&event, false, note.channel, note.pitch)
            } else if kind == kLegacyMIDICCOutEvent as u32 {
                let cc = event.__field0.midiCCOut;
                Out::Control(frame, cc.controlNumber, cc.value)
            } else if kind == kDataEvent as u32 {
                let data = event.__field0.data;
                let bytes = std::slice::from_raw_parts(data.bytes, data.size as usize);
                Out::SysEx(frame, bytes.to_vec())
            } else {
                assert!(kind <= kScaleEvent as u32 || kind >= 65_535, "an event of type {kind}");
                Out::Other(frame)
            }
        };
        let apart = matches!(out, Out::Apart(..));
        assert_eq!(event.busIndex, i32::from(apart), "no output for it: {out:?}");
        let mut list = self.out.borrow_mut();
        assert!(list.last().is_none_or(|last| frame_of(last) <= frame), "not sorted");
        list.push(out);
        kResultOk
    }
}

fn note_out(event: &Event, on: bool, channel: i16, key: i16) -> Out {
    assert!((0..16).contains(&channel) && (0..128).contains(&key), "{channel} {key}");
    match (event.busIndex, on) {
        (1, _) => Out::Apart(event.sampleOffset, on, channel, key),
        (_, true) => Out::On(event.sampleOffset, channel, key),
        (_, false) => Out::Off(event.sampleOffset, channel, key),
    }
}

/// Text as the format has it.
pub fn text(wide: &[char16]) -> String {
    let end = wide.iter().position(|letter| *letter == 0).expect("an end");
    String::from_utf16(&wide[..end].iter().map(|letter| *letter as u16).collect::<Vec<_>>())
        .unwrap()
}

/// How many hold an object.
pub fn holders<I: Interface>(object: &ComPtr<I>) -> u32 {
    let object = object.as_ptr().cast::<FUnknown>();
    unsafe {
        ((*(*object).vtbl).addRef)(object);
        ((*(*object).vtbl).release)(object)
    }
}

/// One parameter change at one frame.
pub struct Change(pub u32, pub i32, pub f64);

impl Class for Change {
    type Interfaces = (IParamValueQueue,);
}

impl IParamValueQueueTrait for Change {
    unsafe fn getParameterId(&self) -> ParamID {
        self.0
    }
    unsafe fn getPointCount(&self) -> int32 {
        1
    }
    unsafe fn getPoint(&self, _: int32, frame: *mut int32, value: *mut ParamValue) -> tresult {
        unsafe { (*frame, *value) = (self.1, self.2) };
        kResultOk
    }
    unsafe fn addPoint(&self, _: int32, _: ParamValue, _: *mut int32) -> tresult {
        kResultFalse
    }
}

struct Changes(Vec<ComPtr<IParamValueQueue>>);

impl Class for Changes {
    type Interfaces = (IParameterChanges,);
}

impl IParameterChangesTrait for Changes {
    unsafe fn getParameterCount(&self) -> int32 {
        self.0.len() as int32
    }
    unsafe fn getParameterData(&self, index: int32) -> *mut IParamValueQueue {
        self.0[index as usize].as_ptr()
    }
    unsafe fn addParameterData(&self, _: *const ParamID, _: *mut int32) -> *mut IParamValueQueue {
        null_mut()
    }
}

/// The host's ear for what the plugin does by itself.
#[derive(Default)]
pub struct Handler {
    /// Parameters that were edited.
    pub edits: Mutex<Vec<ParamID>>,
    /// What was asked to be started anew.
    pub restarts: Mutex<Vec<i32>>,
}

impl Class for Handler {
    type Interfaces = (IComponentHandler,);
}

impl IComponentHandlerTrait for Handler {
    unsafe fn beginEdit(&self, _: ParamID) -> tresult {
        kResultOk
    }
    unsafe fn performEdit(&self, id: ParamID, _: ParamValue) -> tresult {
        self.edits.lock().unwrap().push(id);
        kResultOk
    }
    unsafe fn endEdit(&self, _: ParamID) -> tresult {
        kResultOk
    }
    unsafe fn restartComponent(&self, flags: int32) -> tresult {
        self.restarts.lock().unwrap().push(flags);
        kResultOk
    }
}

/// A stream in memory.
#[derive(Default)]
struct Stream(RefCell<(Vec<u8>, usize)>);

impl Class for Stream {
    type Interfaces = (IBStream,);
}

impl IBStreamTrait for Stream {
    unsafe fn read(&self, to: *mut c_void, size: int32, done: *mut int32) -> tresult {
        let (bytes, at) = &mut *self.0.borrow_mut();
        let count = (size as usize).min(bytes.len() - *at);
        unsafe { std::ptr::copy_nonoverlapping(bytes[*at..].as_ptr(), to.cast(), count) };
        *at += count;
        if !done.is_null() {
            unsafe { *done = count as int32 };
        }
        kResultOk
    }
    unsafe fn write(&self, from: *mut c_void, size: int32, done: *mut int32) -> tresult {
        let new = unsafe { std::slice::from_raw_parts(from.cast::<u8>(), size as usize) };
        self.0.borrow_mut().0.extend_from_slice(new);
        if !done.is_null() {
            unsafe { *done = size };
        }
        kResultOk
    }
    unsafe fn seek(&self, to: int64, mode: int32, result: *mut int64) -> tresult {
        let (bytes, at) = &mut *self.0.borrow_mut();
        let base = [0, *at as i64, bytes.len() as i64][mode as usize];
        *at = (base + to).clamp(0, bytes.len() as i64) as usize;
        if !result.is_null() {
            unsafe { *result = *at as i64 };
        }
        kResultOk
    }
    unsafe fn tell(&self, result: *mut int64) -> tresult {
        unsafe { *result = self.0.borrow().1 as i64 };
        kResultOk
    }
}

pub struct Host {
    /// The ids of the notes of the last block.
    pub ids: RefCell<Vec<i32>>,
    pub component: ComPtr<IComponent>,
    processor: ComPtr<IAudioProcessor>,
    pub controller: ComPtr<IEditController>,
    /// What the plugin told of.
    pub told: ComWrapper<Handler>,
    /// Whether the lists for what comes out are full.
    pub refuse: bool,
}

/// The host's clock at the start of a block.
#[derive(Clone, Copy, Debug)]
pub struct Time {
    pub playing: bool,
    pub beat: f64,
    pub tempo: f64,
    pub metre: (i32, i32),
    pub cycle: Option<(f64, f64)>,
    /// What of it is valid, in the format's flags.
    pub valid: u32,
}

impl Time {
    pub fn at(beat: f64) -> Self {
        let valid = kTempoValid | kTimeSigValid | kProjectTimeMusicValid | kBarPositionValid;
        let (tempo, metre) = (120.0, (4, 4));
        Self { playing: true, beat, tempo, metre, cycle: None, valid: valid as u32 }
    }

    pub fn stopped(beat: f64) -> Self {
        Self { playing: false, ..Self::at(beat) }
    }

    fn raw(&self) -> ProcessContext {
        let mut context: ProcessContext = unsafe { std::mem::zeroed() };
        let flag = |on: bool, flag: u32| if on { flag } else { 0 };
        context.state = self.valid
            | flag(self.playing, kPlaying as u32)
            | flag(self.cycle.is_some(), kCycleActive as u32 | kCycleValid as u32);
        context.sampleRate = 48_000.0;
        context.tempo = self.tempo;
        (context.timeSigNumerator, context.timeSigDenominator) = self.metre;
        context.projectTimeMusic = self.beat;
        context.barPositionMusic = (self.beat / 4.0).floor() * 4.0;
        (context.cycleStartMusic, context.cycleEndMusic) = self.cycle.unwrap_or_default();
        context
    }
}

/// The plugin's library and what it makes.
pub fn factory() -> ComPtr<IPluginFactory> {
    let test = std::env::current_exe().unwrap();
    let folder = test.parent().unwrap();
    let path = folder.join(libloading::library_filename("sinistra_plugin"));
    // Never unloaded: the plugin's threads may outlive the test.
    let library: &'static libloading::Library =
        Box::leak(Box::new(unsafe { libloading::Library::new(path) }.unwrap()));
    unsafe {
        if let Ok(enter) =
            library.get::<unsafe extern "system" fn(*mut c_void) -> bool>(b"ModuleEntry\0")
        {
            assert!(enter(null_mut()));
        }
        let factory: libloading::Symbol<unsafe extern "system" fn() -> *mut IPluginFactory> =
            library.get(b"GetPluginFactory\0").unwrap();
        ComPtr::from_raw(factory()).unwrap()
    }
}

impl Host {
    /// Made and initialised.
    pub fn made() -> Self {
        unsafe {
            let factory = factory();
            assert_eq!(factory.countClasses(), 1);
            let mut info: PClassInfo = std::mem::zeroed();
            assert_eq!(factory.getClassInfo(0, &mut info), kResultOk);
            let mut object: *mut c_void = null_mut();
            let iid = IComponent::IID;
            let made = factory.createInstance(
                info.cid.as_ptr().cast(),
                (&raw const iid).cast(),
                &mut object,
            );
            assert_eq!(made, kResultOk);
            let component = ComPtr::<IComponent>::from_raw(object.cast()).unwrap();
            assert_eq!(component.initialize(null_mut()), kResultOk);
            let processor = component.cast::<IAudioProcessor>().unwrap();
            let controller = component.cast::<IEditController>().unwrap();
            let told = ComWrapper::new(Handler::default());
            let handler = told.to_com_ptr::<IComponentHandler>().unwrap();
            assert_eq!(controller.setComponentHandler(handler.as_ptr()), kResultOk);
            Self { ids: RefCell::default(), component, processor, controller, told, refuse: false }
        }
    }

    /// Started at 48 kHz, with roots on the beat.
    pub fn started() -> Self {
        let host = Self::made();
        let pattern = host.param("Pattern");
        let mut steps = host.parameters().into_iter().filter(|info| info.id == pattern);
        let steps = f64::from(steps.next().unwrap().stepCount);
        let set = unsafe { host.controller.setParamNormalized(pattern, 1.0 / steps) };
        assert_eq!(set, kResultOk);
        host.start(48_000.0, 8192);
        host
    }

    pub fn start(&self, rate: f64, most: i32) {
        self.start_as(rate, most, 0);
    }

    /// In a mode of the format: 0 real time, 2 offline.
    pub fn start_as(&self, rate: f64, most: i32, mode: i32) {
        let mut setup = ProcessSetup {
            processMode: mode,
            symbolicSampleSize: 0,
            maxSamplesPerBlock: most,
            sampleRate: rate,
        };
        unsafe {
            assert_eq!(self.processor.setupProcessing(&mut setup), kResultOk);
            assert_eq!(self.component.setActive(1), kResultOk);
            self.processor.setProcessing(1);
        }
    }

    pub fn stop(&self) {
        unsafe {
            self.processor.setProcessing(0);
            assert_eq!(self.component.setActive(0), kResultOk);
        }
    }

    pub fn processor(&self) -> &ComPtr<IAudioProcessor> {
        &self.processor
    }

    /// All parameters, with the controllers that MIDI is mapped to.
    pub fn parameters(&self) -> Vec<ParameterInfo> {
        let count = unsafe { self.controller.getParameterCount() };
        let info = |index| unsafe {
            let mut info: ParameterInfo = std::mem::zeroed();
            assert_eq!(self.controller.getParameterInfo(index, &mut info), kResultOk);
            info
        };
        (0..count).map(info).collect()
    }

    /// The plugin's own.
    pub fn own_parameters(&self) -> Vec<ParameterInfo> {
        let mut all = self.parameters();
        all.truncate(all.len() - CONTROLLERS * 16 - 1); // which follow, and the program
        all
    }

    /// The id of a parameter by its name.
    pub fn param(&self, name: &str) -> ParamID {
        let all = self.parameters();
        all.iter().find(|info| text(&info.title) == name).unwrap().id
    }

    /// Turns the second output on or off.
    pub fn turn_second_output(&self, on: bool) {
        let (media, way) = (MediaTypes_::kEvent as i32, BusDirections_::kOutput as i32);
        let done = unsafe { self.component.activateBus(media, way, 1, on.into()) };
        assert_eq!(done, kResultOk);
    }

    /// What the plugin reports, in frames.
    pub fn latency(&self) -> u32 {
        unsafe { self.processor.getLatencySamples() }
    }

    /// Stopped and started again, as hosts do when asked to.
    pub fn restart(&self) {
        unsafe {
            self.processor.setProcessing(0);
            assert_eq!(self.component.setActive(0), kResultOk);
            assert_eq!(self.component.setActive(1), kResultOk);
            self.processor.setProcessing(1);
        }
    }

    /// A block, from `beat` on if the host plays.
    pub fn block(
        &self,
        frames: i32,
        beat: Option<f64>,
        events: Vec<Event>,
        changes: Vec<Change>,
    ) -> Vec<Out> {
        let time = beat.map_or(Time::stopped(0.0), Time::at);
        self.block_at(frames, Some(time), events, changes)
    }

    /// A block of any clock, or none.
    pub fn block_at(
        &self,
        frames: i32,
        time: Option<Time>,
        events: Vec<Event>,
        changes: Vec<Change>,
    ) -> Vec<Out> {
        let input = ComWrapper::new(List { events, ..List::default() });
        let output = ComWrapper::new(List { refuses: self.refuse, ..List::default() });
        let changes = changes
            .into_iter()
            .map(|change| ComWrapper::new(change).to_com_ptr::<IParamValueQueue>().unwrap());
        let changes = ComWrapper::new(Changes(changes.collect()));
        let (input_ptr, output_ptr) =
            (input.to_com_ptr::<IEventList>().unwrap(), output.to_com_ptr::<IEventList>().unwrap());
        let changes_ptr = changes.to_com_ptr::<IParameterChanges>().unwrap();
        let mut context = time.map(|time| time.raw());
        let mut data = ProcessData {
            numSamples: frames,
            inputParameterChanges: changes_ptr.as_ptr(),
            inputEvents: input_ptr.as_ptr(),
            outputEvents: output_ptr.as_ptr(),
            processContext: context.as_mut().map_or(null_mut(), |context| &raw mut *context),
            ..nothing()
        };
        let held = [holders(&input_ptr), holders(&output_ptr)];
        assert_eq!(unsafe { self.processor.process(&mut data) }, kResultOk);
        assert_eq!([holders(&input_ptr), holders(&output_ptr)], held, "a list is held on to");
        self.ids.replace(output.ids.take());
        let out = output.out.take();
        let last = frames.max(1);
        let inside = |out: &Out| (0..last).contains(&frame_of(out));
        assert!(out.iter().all(inside), "outside of a block of {frames}: {out:?}");
        out
    }

    /// A block in which the host gives no lists at all.
    pub fn bare_block(&self, frames: i32) {
        let mut data = ProcessData { numSamples: frames, ..nothing() };
        assert_eq!(unsafe { self.processor.process(&mut data) }, kResultOk);
    }

    /// Opens the plugin's window inside an X11 window.
    pub fn open_window(&self, parent: u32) -> ComPtr<IPlugView> {
        unsafe {
            let view = self.controller.createView(ViewType::kEditor);
            let view = ComPtr::from_raw(view).expect("an editor");
            assert_eq!(view.isPlatformTypeSupported(kPlatformTypeX11EmbedWindowID), kResultOk);
            let mut size: ViewRect = std::mem::zeroed();
            assert_eq!(view.getSize(&mut size), kResultOk);
            assert_eq!((size.right - size.left, size.bottom - size.top), (1040, 740));
            let parent = parent as usize as *mut c_void;
            assert_eq!(view.attached(parent, kPlatformTypeX11EmbedWindowID), kResultOk);
            view
        }
    }

    pub fn close_window(&self, view: ComPtr<IPlugView>) {
        assert_eq!(unsafe { view.removed() }, kResultOk);
    }

    pub fn save(&self) -> Vec<u8> {
        let stream = ComWrapper::new(Stream::default());
        let pointer = stream.to_com_ptr::<IBStream>().unwrap();
        assert_eq!(unsafe { self.component.getState(pointer.as_ptr()) }, kResultOk);
        stream.0.take().0
    }

    pub fn restore(&self, bytes: &[u8]) -> bool {
        let stream = ComWrapper::new(Stream(RefCell::new((bytes.to_vec(), 0))));
        let pointer = stream.to_com_ptr::<IBStream>().unwrap();
        unsafe { self.component.setState(pointer.as_ptr()) == kResultOk }
    }
}

fn frame_of(out: &Out) -> i32 {
    match out {
        Out::On(f, ..)
        | Out::Off(f, ..)
        | Out::Apart(f, ..)
        | Out::Control(f, ..)
        | Out::SysEx(f, _)
        | Out::Other(f) => *f,
    }
}

/// A block's data with nothing in it.
fn nothing() -> ProcessData {
    ProcessData {
        processMode: 0,
        symbolicSampleSize: 0,
        numSamples: 0,
        numInputs: 0,
        numOutputs: 0,
        inputs: null_mut(),
        outputs: null_mut(),
        inputParameterChanges: null_mut(),
        outputParameterChanges: null_mut(),
        inputEvents: null_mut(),
        outputEvents: null_mut(),
        processContext: null_mut(),
    }
}

impl Drop for Host {
    fn drop(&mut self) {
        unsafe {
            self.processor.setProcessing(0);
            self.component.setActive(0);
            self.component.terminate();
        }
    }
}

pub fn event(frame: i32, kind: u32) -> Event {
    let mut event: Event = unsafe { std::mem::zeroed() };
    event.sampleOffset = frame;
    event.r#type = kind as u16;
    event
}

pub fn on(frame: i32, pitch: i16) -> Event {
    let mut event = event(frame, kNoteOnEvent as u32);
    event.__field0.noteOn =
        NoteOnEvent { channel: 0, pitch, tuning: 0.0, velocity: 0.8, length: 0, noteId: -1 };
    event
}

pub fn off(frame: i32, pitch: i16) -> Event {
    let mut event = event(frame, kNoteOffEvent as u32);
    event.__field0.noteOff =
        NoteOffEvent { channel: 0, pitch, velocity: 0.5, noteId: -1, tuning: 0.0 };
    event
}
