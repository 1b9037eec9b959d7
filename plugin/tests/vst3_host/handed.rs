//! What the host hands to the plugin: changes of parameters, an ear, a stream.

use std::cell::RefCell;
use std::ffi::c_void;
use std::ptr::null_mut;
use std::sync::Mutex;

use vst3::Steinberg::Vst::*;
use vst3::Steinberg::*;
use vst3::{Class, ComPtr};

use super::menus::Chosen;

/// One parameter change at one frame.
pub struct ParameterChange(pub u32, pub i32, pub f64);

impl Class for ParameterChange {
    type Interfaces = (IParamValueQueue,);
}

impl IParamValueQueueTrait for ParameterChange {
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

pub(super) struct Changes(pub(super) Vec<ComPtr<IParamValueQueue>>);

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

/// As many starts anew as are kept.
const RESTARTS: usize = 256;

/// The host's ear for what the plugin does by itself.
pub struct HostHandler {
    /// Parameters that were edited.
    pub edits: Mutex<Vec<ParamID>>,
    /// What was asked to be started anew, the first of it: where the plugin is called in
    /// one thread (a fuzzer's) it says so in the midst of a block, and nothing may
    /// allocate then.
    pub restarts: Mutex<Vec<i32>>,
    /// The parameters whose menu was asked for.
    pub asked: Mutex<Vec<ParamID>>,
    /// What was chosen of them.
    pub chosen: Chosen,
}

impl Default for HostHandler {
    fn default() -> Self {
        Self {
            edits: Mutex::default(),
            restarts: Mutex::new(Vec::with_capacity(RESTARTS)),
            asked: Mutex::default(),
            chosen: Chosen::default(),
        }
    }
}

impl Class for HostHandler {
    type Interfaces = (IComponentHandler, IComponentHandler3);
}

impl IComponentHandlerTrait for HostHandler {
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
        let mut restarts = self.restarts.lock().unwrap();
        if restarts.len() < RESTARTS {
            restarts.push(flags);
        }
        kResultOk
    }
}

#[derive(Default)]
pub(super) struct MemoryStream(pub(super) RefCell<(Vec<u8>, usize)>);

impl Class for MemoryStream {
    type Interfaces = (IBStream,);
}

impl IBStreamTrait for MemoryStream {
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
