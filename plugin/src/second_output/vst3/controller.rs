//! The controller as the host sees it: the framework's, but for two slips of it.

#![allow(unsafe_code)]

use super::api::Steinberg::Vst::*;
use super::api::Steinberg::*;
use super::api::{ComRef, ComWrapper};
use super::component::Component;
use super::handler::Handler;

impl IEditControllerTrait for Component {
    /// The framework takes the first index beyond the last for one more.
    unsafe fn getParameterInfo(&self, index: int32, info: *mut ParameterInfo) -> tresult {
        // SAFETY: as it came.
        unsafe {
            if index >= self.inner.getParameterCount() {
                return kInvalidArgument;
            }
            self.inner.getParameterInfo(index, info)
        }
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
        fn getParamNormalized(id: ParamID) -> ParamValue;
        fn setParamNormalized(id: ParamID, value: ParamValue) -> tresult;
        fn createView(name: FIDString) -> *mut IPlugView;
    }
}
