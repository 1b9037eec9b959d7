//! The controller as the host sees it: the framework's, but for the slips of it that
//! are mended here, each with what upstream would have to do: `getParameterInfo` count
//! right, mark lists and give short titles; `setParamNormalized` keep what the host
//! sets while it processes (`remembered`).

#![allow(unsafe_code, reason = "VST3 is an interface in COM")]
#![allow(clippy::unnecessary_cast, reason = "the types of C enums differ from system to system")]

use super::api::Steinberg::Vst::*;
use super::api::Steinberg::*;
use super::api::{ComRef, ComWrapper};
use super::buses::wide;
use super::component::Component;
use super::handler::Handler;
use super::programs;
use sinistra_panel::control;
use std::sync::atomic::Ordering::Relaxed;

impl IEditControllerTrait for Component {
    /// The framework takes the first index beyond the last for one more.
    unsafe fn getParameterInfo(&self, index: int32, info: *mut ParameterInfo) -> tresult {
        // SAFETY: as it came.
        unsafe {
            let count = self.inner.getParameterCount();
            if index == count && !info.is_null() {
                info.write(self.program_info());
                return kResultOk;
            }
            if index >= count {
                return kInvalidArgument;
            }
            let got = self.inner.getParameterInfo(index, info);
            if let Some(info) = info.as_mut().filter(|_| got == kResultOk) {
                name(info);
            }
            got
        }
    }

    unsafe fn getParameterCount(&self) -> int32 {
        // SAFETY: as it came.
        unsafe { self.inner.getParameterCount() + 1 }
    }

    unsafe fn getParamStringByValue(
        &self,
        id: ParamID,
        value: ParamValue,
        text: *mut String128,
    ) -> tresult {
        // SAFETY: as it came.
        unsafe {
            match id {
                programs::PARAMETER => programs::write_value(value, text),
                _ => self.inner.getParamStringByValue(id, value, text),
            }
        }
    }

    unsafe fn getParamValueByString(
        &self,
        id: ParamID,
        text: *mut TChar,
        value: *mut ParamValue,
    ) -> tresult {
        // SAFETY: as it came.
        unsafe {
            if id != programs::PARAMETER {
                return self.inner.getParamValueByString(id, text, value);
            }
            match (programs::read_value(text), value.as_mut()) {
                (Some(read), Some(value)) => {
                    *value = read;
                    kResultOk
                }
                _ => kResultFalse,
            }
        }
    }

    unsafe fn normalizedParamToPlain(&self, id: ParamID, value: ParamValue) -> ParamValue {
        match id {
            programs::PARAMETER => programs::plain(value),
            // SAFETY: as it came.
            _ => unsafe { self.inner.normalizedParamToPlain(id, value) },
        }
    }

    unsafe fn plainParamToNormalized(&self, id: ParamID, value: ParamValue) -> ParamValue {
        match id {
            programs::PARAMETER => programs::normalized(value),
            // SAFETY: as it came.
            _ => unsafe { self.inner.plainParamToNormalized(id, value) },
        }
    }

    unsafe fn getParamNormalized(&self, id: ParamID) -> ParamValue {
        if id == programs::PARAMETER {
            return self.program();
        }
        // SAFETY: as it came.
        self.remembered.value(id).unwrap_or_else(|| unsafe { self.inner.getParamNormalized(id) })
    }

    unsafe fn setParamNormalized(&self, id: ParamID, value: ParamValue) -> tresult {
        if id == programs::PARAMETER {
            self.choose_program(value);
            return kResultOk;
        }
        // SAFETY: as it came.
        let result = unsafe { self.inner.setParamNormalized(id, value) };
        if result == kResultOk {
            self.remembered.set(id, value);
        }
        result
    }

    /// The framework is given one of ours that passes on to the host's.
    unsafe fn setComponentHandler(&self, host: *mut IComponentHandler) -> tresult {
        // SAFETY: it is null or the host's, which may be held on to from here on.
        let host = unsafe { ComRef::from_raw(host) };
        *self.given.handler.lock() = host.map(|host| host.to_com_ptr());
        let ours = host.and_then(|host| {
            let (host, latency) = (host.to_com_ptr(), self.latency.clone());
            ComWrapper::new(Handler { host, latency }).to_com_ptr::<IComponentHandler>()
        });
        let ours = ours.as_ref().map_or(std::ptr::null_mut(), |ours| ours.as_ptr());
        // SAFETY: the framework holds on to what it keeps.
        unsafe { self.inner.setComponentHandler(ours) }
    }

    pass_on! { IEditControllerTrait:
        fn setComponentState(state: *mut IBStream) -> tresult;
        fn setState(state: *mut IBStream) -> tresult;
        fn getState(state: *mut IBStream) -> tresult;
    }

    unsafe fn createView(&self, name: FIDString) -> *mut IPlugView {
        // SAFETY: as it came.
        let view = unsafe { self.inner.createView(name) };
        self.given.view.store(view, Relaxed);
        view
    }
}

/// A short title, and the flag of a list.
fn name(info: &mut ParameterInfo) {
    let title = info.title.iter().take_while(|letter| **letter != 0);
    let is_it = |name: &str| name.encode_utf16().eq(title.clone().copied());
    let found = control::ALL.iter().map(|control| control.spec()).find(|spec| is_it(spec.name));
    if let Some(spec) = found {
        info.shortTitle = wide(spec.short);
        if spec.scale.is_list() {
            info.flags |= ParameterInfo_::ParameterFlags_::kIsList as i32;
        }
    }
}
