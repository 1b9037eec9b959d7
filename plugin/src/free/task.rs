//! What is done elsewhere than where it is wanted, and the way there.

use std::sync::Arc;
use std::sync::mpsc::SyncSender;

use nice_plug::prelude::{AsyncExecutor, Plugin};
use sinistra_panel::control::Control;

/// What the audio thread or the window wants done elsewhere.
pub enum DeskTask {
    /// The texts as they were after this edit.
    Recall(i32),
    /// The host is asked for its menu of a control.
    AskMenu(Control),
    /// An entry of that menu is chosen.
    Choose(Control, u32),
    /// Whoever waits for all tasks before this one is told.
    Farewell(SyncSender<()>),
}

/// The way to the framework's worker.
#[derive(Clone)]
pub struct DeskWorker(Arc<dyn Fn(DeskTask, bool) + Send + Sync>);

impl DeskWorker {
    /// Of the plugin that does the tasks.
    pub fn new<P: Plugin<BackgroundTask = DeskTask>>(worker: AsyncExecutor<P>) -> Self {
        Self(Arc::new(move |task, on_main_thread| match on_main_thread {
            true => worker.execute_gui(task),
            false => worker.execute_background(task),
        }))
    }

    /// Has it done on the host's main thread.
    pub fn on_main_thread(&self, task: DeskTask) {
        self.0(task, true);
    }

    /// Has it done anywhere.
    pub fn in_background(&self, task: DeskTask) {
        self.0(task, false);
    }
}
