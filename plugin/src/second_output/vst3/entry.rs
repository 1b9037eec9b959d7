//! The library's functions that hosts look for, on each system: the framework's,
//! but for whose factory it is.

#![allow(unsafe_code, reason = "VST3 is an interface in COM")]

use std::ffi::c_void;

use nice_plug::wrapper::setup_logger;

use super::api::ComWrapper;
use super::api::Steinberg::IPluginFactory;
use super::factory::Factory;
use crate::Sinistra;

/// Where hosts begin; what it gives is theirs.
#[unsafe(no_mangle)]
pub extern "system" fn GetPluginFactory() -> *mut c_void {
    let factory = ComWrapper::new(Factory::default()).to_com_ptr::<IPluginFactory>();
    factory.map_or(std::ptr::null_mut(), |factory| factory.into_raw().cast())
}

/// The library was loaded (Linux).
#[unsafe(no_mangle)]
#[cfg(all(target_family = "unix", not(target_os = "macos")))]
pub extern "C" fn ModuleEntry(_: *mut c_void) -> bool {
    setup_logger::<Sinistra>();
    true
}

/// The library is about to be unloaded (Linux).
#[unsafe(no_mangle)]
#[cfg(all(target_family = "unix", not(target_os = "macos")))]
pub extern "C" fn ModuleExit() -> bool {
    true
}

/// The bundle was loaded (macOS).
#[unsafe(no_mangle)]
#[cfg(target_os = "macos")]
pub extern "C" fn bundleEntry(_: *mut c_void) -> bool {
    setup_logger::<Sinistra>();
    true
}

/// The bundle is about to be unloaded (macOS).
#[unsafe(no_mangle)]
#[cfg(target_os = "macos")]
pub extern "C" fn bundleExit() -> bool {
    true
}

/// The library was loaded (Windows).
#[unsafe(no_mangle)]
#[cfg(target_os = "windows")]
pub extern "system" fn InitDll() -> bool {
    setup_logger::<Sinistra>();
    true
}

/// The library is about to be unloaded (Windows).
#[unsafe(no_mangle)]
#[cfg(target_os = "windows")]
pub extern "system" fn ExitDll() -> bool {
    true
}
