//! What the framework tells the host: all but a request to start anew for a latency
//! that the host has yet to ask for.
//!
//! Hosts ask for the latency when they have turned the component on (the format's
//! "Get Latency Call Sequence"). The framework asks to be started anew for any that
//! is not the last, also for the first that there is: a project with look-ahead
//! would be started twice whenever it is loaded.

#![allow(unsafe_code, reason = "VST3 is an interface in COM")]
#![allow(clippy::unnecessary_cast, reason = "the types of C enums differ from system to system")]

use std::sync::Arc;
use std::sync::atomic::AtomicBool;
use std::sync::atomic::Ordering::Relaxed;

use super::api::Steinberg::Vst::RestartFlags_::kLatencyChanged;
use super::api::Steinberg::Vst::{IComponentHandler, IComponentHandlerTrait, ParamID, ParamValue};
use super::api::Steinberg::{int32, kResultOk, tresult};
use super::api::{Class, ComPtr};

/// What the host knows of the latency.
#[derive(Default)]
pub struct Latency {
    /// Whether it has asked, ever.
    asked: AtomicBool,
    /// Whether it turns the component on just now.
    starting: AtomicBool,
}

impl Latency {
    /// The host asks.
    pub fn ask(&self) {
        self.asked.store(true, Relaxed);
    }

    /// The host turns the component on.
    pub fn while_starting<T>(&self, start: impl FnOnce() -> T) -> T {
        self.starting.store(true, Relaxed);
        let started = start();
        self.starting.store(false, Relaxed);
        started
    }

    fn is_awaited(&self) -> bool {
        self.starting.load(Relaxed) && !self.asked.load(Relaxed)
    }
}

/// Stands before the host's.
pub struct Handler {
    pub host: ComPtr<IComponentHandler>,
    pub latency: Arc<Latency>,
}

impl Class for Handler {
    type Interfaces = (IComponentHandler,);
}

impl IComponentHandlerTrait for Handler {
    unsafe fn beginEdit(&self, id: ParamID) -> tresult {
        // SAFETY: as it came.
        unsafe { self.host.beginEdit(id) }
    }

    unsafe fn performEdit(&self, id: ParamID, value: ParamValue) -> tresult {
        // SAFETY: as it came.
        unsafe { self.host.performEdit(id, value) }
    }

    unsafe fn endEdit(&self, id: ParamID) -> tresult {
        // SAFETY: as it came.
        unsafe { self.host.endEdit(id) }
    }

    unsafe fn restartComponent(&self, why: int32) -> tresult {
        if why == kLatencyChanged as int32 && self.latency.is_awaited() {
            return kResultOk;
        }
        // SAFETY: as it came.
        unsafe { self.host.restartComponent(why) }
    }
}
