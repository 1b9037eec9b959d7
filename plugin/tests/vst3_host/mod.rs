//! A small VST3 host in this process (VST 3 interfaces: `ivsteditcontroller.h`,
//! `ivstaudioprocessor.h`, `ivstcomponent.h`).

// The types of C enums differ from system to system.
#![allow(
    dead_code,
    unused_imports,
    clippy::unwrap_used,
    clippy::panic,
    clippy::unnecessary_cast,
    unsafe_code
)]

mod events;
mod handed;
pub mod menus;

use std::cell::RefCell;
use std::ffi::c_void;
use std::ptr::null_mut;

use vst3::Steinberg::Vst::ProcessContext_::StatesAndFlags_::*;
use vst3::Steinberg::Vst::*;
use vst3::Steinberg::*;
use vst3::{ComPtr, ComWrapper, Interface};

use events::{List, frame_of};
pub use events::{Out, event, off, on};
use handed::{Changes, MemoryStream};
pub use handed::{HostHandler, ParameterChange};

/// Controllers with a number: 0 to 127, channel pressure, bend (`kCountCtrlNumber`
/// of `ivstmidicontrollers.h`).
pub const CONTROLLERS: usize = 130;

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

pub struct Vst3Host {
    /// The ids of the notes of the last block.
    pub ids: RefCell<Vec<i32>>,
    pub component: ComPtr<IComponent>,
    processor: ComPtr<IAudioProcessor>,
    pub controller: ComPtr<IEditController>,
    /// What the plugin told of.
    pub told: ComWrapper<HostHandler>,
    /// Whether the lists for what comes out are full.
    pub refuse: bool,
}

/// The host's clock at the start of a block.
#[derive(Clone, Copy, Debug)]
pub struct Vst3Time {
    pub playing: bool,
    pub beat: f64,
    pub tempo: f64,
    pub metre: (i32, i32),
    pub cycle: Option<(f64, f64)>,
    /// What of it is valid, in the format's flags.
    pub valid: u32,
}

impl Vst3Time {
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

impl Vst3Host {
    /// Made and initialised.
    pub fn made() -> Self {
        Self::made_by(&factory())
    }

    /// The same by a factory.
    pub fn made_by(factory: &ComPtr<IPluginFactory>) -> Self {
        unsafe {
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
            let told = ComWrapper::new(HostHandler::default());
            let handler = told.to_com_ptr::<IComponentHandler>().unwrap();
            assert_eq!(controller.setComponentHandler(handler.as_ptr()), kResultOk);
            Self { ids: RefCell::default(), component, processor, controller, told, refuse: false }
        }
    }

    /// Started at 48 kHz, with roots on the beat.
    pub fn started() -> Self {
        let host = Self::made();
        host.begin();
        host
    }

    /// Starts it likewise.
    pub fn begin(&self) {
        let pattern = self.named("Pattern");
        let first = 1.0 / f64::from(pattern.stepCount);
        let set = unsafe { self.controller.setParamNormalized(pattern.id, first) };
        assert_eq!(set, kResultOk);
        self.start(48_000.0, 8192);
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
        self.infos().collect()
    }

    /// The plugin's own.
    pub fn own_parameters(&self) -> Vec<ParameterInfo> {
        let all = self.infos();
        let own = all.len() - CONTROLLERS * 16 - 1; // which follow, and the program
        all.take(own).collect()
    }

    /// The same one by one: most ask for few.
    fn infos(&self) -> impl ExactSizeIterator<Item = ParameterInfo> {
        let count = unsafe { self.controller.getParameterCount() };
        (0..count).map(|index| unsafe {
            let mut info: ParameterInfo = std::mem::zeroed();
            assert_eq!(self.controller.getParameterInfo(index, &mut info), kResultOk);
            info
        })
    }

    /// The id of a parameter by its name.
    pub fn param(&self, name: &str) -> ParamID {
        self.named(name).id
    }

    fn named(&self, name: &str) -> ParameterInfo {
        self.infos().find(|info| text(&info.title) == name).unwrap()
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
        self.stop();
        unsafe {
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
        changes: Vec<ParameterChange>,
    ) -> Vec<Out> {
        let time = beat.map_or(Vst3Time::stopped(0.0), Vst3Time::at);
        self.block_at(frames, Some(time), events, changes)
    }

    /// A block of any clock, or none.
    pub fn block_at(
        &self,
        frames: i32,
        time: Option<Vst3Time>,
        events: Vec<Event>,
        changes: Vec<ParameterChange>,
    ) -> Vec<Out> {
        let input = ComWrapper::new(List { events, ..List::default() });
        let output = ComWrapper::new(List { refuses: self.refuse, ..List::with_room() });
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
        let stream = ComWrapper::new(MemoryStream::default());
        let pointer = stream.to_com_ptr::<IBStream>().unwrap();
        assert_eq!(unsafe { self.component.getState(pointer.as_ptr()) }, kResultOk);
        stream.0.take().0
    }

    pub fn restore(&self, bytes: &[u8]) -> bool {
        let stream = ComWrapper::new(MemoryStream(RefCell::new((bytes.to_vec(), 0))));
        let pointer = stream.to_com_ptr::<IBStream>().unwrap();
        unsafe { self.component.setState(pointer.as_ptr()) == kResultOk }
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

impl Drop for Vst3Host {
    fn drop(&mut self) {
        unsafe {
            self.processor.setProcessing(0);
            self.component.setActive(0);
            self.component.terminate();
        }
    }
}
