//! A way from a format's wrapping to the instance inside it.
//!
//! The framework makes the instance, and gives its wrapper alone back (nice-plug 0.4.2).
//! Upstream: the wrapper would have to give a reference to the plugin's parameters, or
//! know the formats' extensions for menus and marks itself. Here an instance in the
//! making leaves word on the thread that makes it, where the wrapping finds it.

use std::cell::Cell;
use std::mem::ManuallyDrop;
use std::sync::Arc;

use super::{DeskWorker, Instance};

/// What an instance in the making leaves behind.
pub struct Met {
    /// The way to the framework's worker.
    pub worker: DeskWorker,
    /// The instance's free world.
    pub desk: Arc<Instance>,
}

/// Whether this thread is making an instance, and what that left. Never dropped with the
/// thread: a library with such a thread could not be unloaded.
#[derive(Default)]
enum Making {
    #[default]
    Nothing,
    Begun,
    Met(ManuallyDrop<Met>),
}

thread_local! {
    static MAKING: Cell<Making> = const { Cell::new(Making::Nothing) };
}

/// An instance in the making tells how to reach it.
pub fn meet(worker: DeskWorker, desk: Arc<Instance>) {
    if let Making::Begun = MAKING.take() {
        MAKING.set(Making::Met(ManuallyDrop::new(Met { worker, desk })));
    }
}

/// Makes an instance; how to reach it, if it has told.
pub fn making<T>(make: impl FnOnce() -> T) -> (Option<Met>, T) {
    MAKING.set(Making::Begun);
    let made = make();
    let met = match MAKING.take() {
        Making::Met(met) => Some(ManuallyDrop::into_inner(met)),
        Making::Nothing | Making::Begun => None,
    };
    (met, made)
}
