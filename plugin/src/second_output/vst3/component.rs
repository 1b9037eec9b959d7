//! The component as the host sees it: the framework's, but for its event buses and
//! where its events go.
//!
//! The framework's object is no COM object here, only what this one is made of:
//! the interfaces are this one's, and so is the count of who holds them. They are
//! the interfaces that the framework's object would have.

#![allow(unsafe_code, reason = "VST3 is an interface in COM")]

use std::sync::Arc;

use nice_plug::wrapper::vst3::Wrapper;

use super::api::Steinberg::Vst::ChannelContext::IInfoListener;
use super::api::Steinberg::Vst::*;
use super::api::Steinberg::*;
use super::api::{Class, ComWrapper};
use super::buses;
use super::farewell::Farewell;
use super::handler::Latency;
use super::menus::{HostGiven, Vst3Menus};
use super::outlet::Vst3Outlet;
use super::programs::{Programs, ids};
use super::remembered::Remembered;
use crate::Sinistra;
use crate::free::meeting::{self, Met};

/// What the host holds.
pub struct Component {
    /// Before `inner`: what is dropped first waits for the other's tasks.
    _farewell: Farewell,
    pub(super) inner: Wrapper<Sinistra>,
    outlet: ComWrapper<Vst3Outlet>,
    pub(super) latency: Arc<Latency>,
    pub(super) remembered: Remembered,
    pub(super) programs: Programs,
    /// What the host has given, for its menus and the programs.
    pub(super) given: Arc<HostGiven>,
}

impl Default for Component {
    fn default() -> Self {
        let (met, inner) = meeting::making(Wrapper::<Sinistra>::default);
        let (given, worker) =
            (Arc::<HostGiven>::default(), met.as_ref().map(|met| met.worker.clone()));
        if let Some(Met { desk, .. }) = met {
            desk.host.has_menus(Box::new(Vst3Menus::of(given.clone(), ids(&inner))));
        }
        Self {
            _farewell: Farewell(worker),
            inner,
            given,
            outlet: ComWrapper::new(Vst3Outlet::default()),
            latency: Arc::default(),
            remembered: Remembered::default(),
            programs: Programs::default(),
        }
    }
}

impl Class for Component {
    type Interfaces = (
        IComponent,
        IEditController,
        IAudioProcessor,
        IMidiMapping,
        INoteExpressionController,
        IProcessContextRequirements,
        IUnitInfo,
        IInfoListener,
    );
}

impl IPluginBaseTrait for Component {
    pass_on! { IPluginBaseTrait:
        fn initialize(context: *mut FUnknown) -> tresult;
        fn terminate() -> tresult;
    }
}

impl IComponentTrait for Component {
    unsafe fn getBusCount(&self, media: MediaType, way: BusDirection) -> int32 {
        match buses::names(media, way).len() {
            // SAFETY: as it came.
            0 => unsafe { self.inner.getBusCount(media, way) },
            count => count as int32,
        }
    }

    unsafe fn getBusInfo(
        &self,
        media: MediaType,
        way: BusDirection,
        index: int32,
        to: *mut BusInfo,
    ) -> tresult {
        match buses::info(media, way, index) {
            Some(info) if !to.is_null() => {
                // SAFETY: the host passes room for it.
                unsafe { to.write(info) };
                kResultOk
            }
            // SAFETY: as it came.
            _ => unsafe { self.inner.getBusInfo(media, way, index, to) },
        }
    }

    unsafe fn activateBus(
        &self,
        media: MediaType,
        way: BusDirection,
        index: int32,
        on: TBool,
    ) -> tresult {
        if buses::is_second(media, way, index) {
            self.outlet.activate(on != 0);
            return kResultOk;
        }
        // SAFETY: as it came.
        unsafe { self.inner.activateBus(media, way, index, on) }
    }

    unsafe fn setActive(&self, on: TBool) -> tresult {
        // SAFETY: as it came.
        self.latency.while_starting(|| unsafe { self.inner.setActive(on) })
    }

    pass_on! { IComponentTrait:
        fn getControllerClassId(id: *mut TUID) -> tresult;
        fn setIoMode(mode: IoMode) -> tresult;
        fn getRoutingInfo(input: *mut RoutingInfo, output: *mut RoutingInfo) -> tresult;
        fn getState(state: *mut IBStream) -> tresult;
    }

    unsafe fn setState(&self, state: *mut IBStream) -> tresult {
        self.remembered.clear();
        self.programs.forget();
        // SAFETY: as it came.
        unsafe { IComponentTrait::setState(&self.inner, state) }
    }
}

impl IAudioProcessorTrait for Component {
    /// Real-time safe.
    unsafe fn process(&self, data: *mut ProcessData) -> tresult {
        let list = self.outlet.as_com_ref::<IEventList>();
        let (false, Some(list)) = (data.is_null(), list) else { return kInvalidArgument };
        self.remembered.pass();
        // SAFETY: the host passes a block that is whole and its own until this
        // returns, and so are its lists; ours is there as long as this object.
        unsafe {
            let mut block = *data;
            if block.outputEvents.is_null() {
                return self.inner.process(&mut block);
            }
            self.outlet.open(block.outputEvents);
            block.outputEvents = list.as_ptr();
            let result = self.inner.process(&mut block);
            self.outlet.close();
            result
        }
    }

    unsafe fn setProcessing(&self, on: TBool) -> tresult {
        self.remembered.processes(on != 0);
        // SAFETY: as it came.
        unsafe { self.inner.setProcessing(on) }
    }

    unsafe fn getLatencySamples(&self) -> uint32 {
        self.latency.ask();
        // SAFETY: as it came.
        unsafe { self.inner.getLatencySamples() }
    }

    pass_on! { IAudioProcessorTrait:
        fn setBusArrangements(
            inputs: *mut SpeakerArrangement,
            input_count: int32,
            outputs: *mut SpeakerArrangement,
            output_count: int32
        ) -> tresult;
        fn getBusArrangement(
            way: BusDirection,
            index: int32,
            arrangement: *mut SpeakerArrangement
        ) -> tresult;
        fn canProcessSampleSize(size: int32) -> tresult;
        fn setupProcessing(setup: *mut ProcessSetup) -> tresult;
        fn getTailSamples() -> uint32;
    }
}
