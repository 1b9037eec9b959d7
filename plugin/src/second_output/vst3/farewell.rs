//! An instance goes when nothing is under way to it.
//!
//! On Linux the framework does what the audio thread wants done elsewhere (a parameter
//! that the host automates is told to the editor, a latency to the host, ours to the
//! desk) in one worker for all instances. That worker ends for good at a task of an
//! instance that is gone, and then the last instance to go panics in the host's hands
//! (nice-plug 0.4.2, `event_loop/background_thread.rs`). Upstream: it would have to go
//! on to the next task, and not be joined from itself. Here an instance that goes has
//! the worker do all that was wanted of it first.

use std::sync::mpsc::{RecvTimeoutError, SyncSender, sync_channel};
use std::thread::sleep;
use std::time::Duration;

use crate::free::{DeskTask, DeskWorker};

/// How often a full queue is tried, and for how long each.
const TRIES: usize = 50;
const TRY: Duration = Duration::from_millis(20);
/// In this time a worker that has done its last task lets go of the instance, be it that
/// others had its processor just then (some turns of Linux's scheduler); should it be the
/// last to let go of it, the instance ends on the worker, which is told on standard error
/// and harms nobody.
const LETS_GO: Duration = Duration::from_millis(30);

/// Dropped before the instance is, it waits for the worker.
pub struct Farewell(pub Option<DeskWorker>);

impl Drop for Farewell {
    fn drop(&mut self) {
        let Some(worker) = self.0.take() else { return };
        for _ in 0..TRIES {
            let (done, wait): (SyncSender<()>, _) = sync_channel(1);
            worker.in_background(DeskTask::Farewell(done));
            // A queue that is full drops the task, and `done` with it.
            match wait.recv_timeout(TRY * TRIES as u32) {
                Err(RecvTimeoutError::Disconnected) => sleep(TRY),
                _ => break,
            }
        }
        sleep(LETS_GO);
    }
}
