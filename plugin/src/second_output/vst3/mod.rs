//! The VST3: `component` stands before the object that the framework made, and
//! `passed` passes on what is none of our business; `buses` declares the event
//! buses, `outlet` turns notes to the second output. `controller` and `handler` mend
//! what the framework tells of parameters and the latency; `programs` is the program list,
//! `menus` the host's menu of a parameter, `farewell` how an instance goes.

#![allow(unsafe_code, reason = "VST3 is an interface in COM")]

/// Passes functions of an interface on to the framework's object.
macro_rules! pass_on {
    ($interface:ident: $(fn $name:ident($($value:ident: $type:ty),*) -> $result:ty;)*) => {$(
        unsafe fn $name(&self, $($value: $type),*) -> $result {
            // SAFETY: what the host passes goes on as it came.
            unsafe { $interface::$name(&self.inner, $($value),*) }
        }
    )*};
}

mod buses;
mod component;
mod controller;
mod entry;
mod factory;
mod farewell;
mod handler;
mod menus;
mod outlet;
mod passed;
mod programs;
mod remembered;

/// The format's interfaces, as the framework has them.
use nice_plug::wrapper::vst3::vst3 as api;
