//! The controller as the host sees it: the framework's, but for the slips of it that
//! are mended here, each with what upstream would have to do: `getParameterInfo` count
//! right, mark lists and give short titles; `setParamNormalized` keep what the host
//! sets while it processes (`remembered`).

#![allow(unsafe_code, reason = "VST3 is an interface in COM")]
#![allow(clippy::unnecessary_cast)] // the types of C enums differ

use super::api::Steinberg::Vst::*;
use super::api::Steinberg::*;
use super::api::{ComRef, ComWrapper};
use super::buses::wide;
use super::component::Component;
use super::handler::Handler;
use sinistra_panel::control;

impl IEditControllerTrait for Component {
    /// The framework takes the first index beyond the last for one more.
    unsafe fn getParameterInfo(&self, index: int32, info: *mut ParameterInfo) -> tresult {
        // SAFETY: as it came.
        unsafe {
            if index >= self.inner.getParameterCount() {
                return kInvalidArgument;
            }
            let got = self.inner.getParameterInfo(index, info);
            if let Some(info) = info.as_mut().filter(|_| got == kResultOk) {
                name(info);
            }
            got
        }
    }

    unsafe fn getParamNormalized(&self, id: ParamID) -> ParamValue {
        // SAFETY: as it came.
        self.remembered.value(id).unwrap_or_else(|| unsafe { self.inner.getParamNormalized(id) })
    }

    unsafe fn setParamNormalized(&self, id: ParamID, value: ParamValue) -> tresult {
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
        fn getParameterCount() -> int32;
        fn getParamStringByValue(id: ParamID, value: ParamValue, text: *mut String128) -> tresult;
        fn getParamValueByString(id: ParamID, text: *mut TChar, value: *mut ParamValue) -> tresult;
        fn normalizedParamToPlain(id: ParamID, value: ParamValue) -> ParamValue;
        fn plainParamToNormalized(id: ParamID, value: ParamValue) -> ParamValue;
        fn createView(name: FIDString) -> *mut IPlugView;
    }
}

/// A short title, and the flag of a list.
fn name(info: &mut ParameterInfo) {
    let title = &info.title;
    let is_it = |name: &str| wide(name) == *title;
    let found = control::ALL.iter().map(|control| control.spec()).find(|spec| is_it(spec.name));
    if let Some(spec) = found {
        info.shortTitle = wide(spec.short);
        if spec.scale.is_list() {
            info.flags |= ParameterInfo_::ParameterFlags_::kIsList as i32;
        }
    }
}
