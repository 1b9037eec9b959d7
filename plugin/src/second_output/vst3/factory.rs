//! The factory (VST 3, `ipluginbase.h`): the framework's description of the one
//! class that there is, and components of ours.

#![allow(unsafe_code, reason = "VST3 is an interface in COM")]

use std::ffi::c_void;

use nice_plug::wrapper::vst3::PluginInfo;

use super::api::Steinberg::*;
use super::api::{Class, ComWrapper};
use super::component::Component;
use crate::Sinistra;

pub struct Factory {
    class: PluginInfo,
}

impl Default for Factory {
    fn default() -> Self {
        Self { class: PluginInfo::for_plugin::<Sinistra>() }
    }
}

impl Class for Factory {
    type Interfaces = (IPluginFactory, IPluginFactory2, IPluginFactory3);
}

/// Gives the host a description that it has room for.
///
/// # Safety
/// `to` must be null or point to room for it.
unsafe fn give<T>(to: *mut T, what: impl FnOnce() -> T) -> tresult {
    if to.is_null() {
        return kInvalidArgument;
    }
    // SAFETY: there is room, says the caller.
    unsafe { to.write(what()) };
    kResultOk
}

/// The same for a class of the list.
///
/// # Safety
/// As [`give`].
unsafe fn give_class<T>(index: int32, to: *mut T, what: impl FnOnce() -> T) -> tresult {
    // SAFETY: as the caller says.
    if index == 0 { unsafe { give(to, what) } } else { kInvalidArgument }
}

impl IPluginFactoryTrait for Factory {
    unsafe fn getFactoryInfo(&self, info: *mut PFactoryInfo) -> tresult {
        // SAFETY: the host passes room for it.
        unsafe { give(info, || self.class.create_factory_info()) }
    }

    unsafe fn countClasses(&self) -> int32 {
        1
    }

    unsafe fn getClassInfo(&self, index: int32, info: *mut PClassInfo) -> tresult {
        // SAFETY: the host passes room for it.
        unsafe { give_class(index, info, || self.class.create_class_info()) }
    }

    unsafe fn createInstance(
        &self,
        class: FIDString,
        iid: FIDString,
        object: *mut *mut c_void,
    ) -> tresult {
        if class.is_null() || iid.is_null() || object.is_null() {
            return kInvalidArgument;
        }
        // SAFETY: both ids have 16 bytes in spite of their type, and there is room
        // for a pointer.
        unsafe {
            object.write(std::ptr::null_mut());
            if *class.cast::<[u8; 16]>() != *self.class.cid {
                return kInvalidArgument;
            }
            let made = ComWrapper::new(Component::default());
            let Some(unknown) = made.as_com_ref::<FUnknown>() else { return kNoInterface };
            let unknown = unknown.as_ptr();
            // What the host asked for holds the component from here on.
            ((*(*unknown).vtbl).queryInterface)(unknown, iid.cast(), object)
        }
    }
}

impl IPluginFactory2Trait for Factory {
    unsafe fn getClassInfo2(&self, index: int32, info: *mut PClassInfo2) -> tresult {
        // SAFETY: the host passes room for it.
        unsafe { give_class(index, info, || self.class.create_class_info_2()) }
    }
}

impl IPluginFactory3Trait for Factory {
    unsafe fn getClassInfoUnicode(&self, index: int32, info: *mut PClassInfoW) -> tresult {
        // SAFETY: the host passes room for it.
        unsafe { give_class(index, info, || self.class.create_class_info_unicode()) }
    }

    unsafe fn setHostContext(&self, _: *mut FUnknown) -> tresult {
        kResultOk
    }
}
