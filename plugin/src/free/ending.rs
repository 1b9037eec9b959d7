//! The thread that draws has ended before the host hears that the window is
//! closed.
//!
//! On X11 the window is drawn on a thread of its own. baseview 0.4.2 joins it on
//! closing, but not if it ends while it is still being asked to show itself; a
//! host that exits then takes the graphics library down under its feet.

use std::cell::RefCell;
use std::sync::Arc;
use std::thread::{self, ThreadId};
use std::time::{Duration, Instant};

use parking_lot::{Condvar, Mutex};

/// A thread that does not end in this time is left alone: a host that hangs
/// would be worse.
const PATIENCE: Duration = Duration::from_secs(2);

/// Counts the threads that draw.
#[derive(Clone, Default)]
pub struct DrawingThreads(Arc<ThreadCount>);

#[derive(Default)]
struct ThreadCount {
    drawing: Mutex<Vec<ThreadId>>,
    ended: Condvar,
}

/// One that draws, until its thread ends.
struct Drawing(Arc<ThreadCount>);

thread_local! {
    static DRAWING: RefCell<Vec<Drawing>> = const { RefCell::new(Vec::new()) };
}

impl DrawingThreads {
    /// This thread draws from now on.
    pub fn draws(&self) {
        self.0.drawing.lock().push(thread::current().id());
        DRAWING.with_borrow_mut(|here| here.push(Drawing(self.0.clone())));
    }

    /// Waits until no other thread draws.
    pub fn wait(&self) {
        let until = Instant::now() + PATIENCE;
        let here = thread::current().id();
        let mut drawing = self.0.drawing.lock();
        while drawing.iter().any(|thread| *thread != here) {
            if self.0.ended.wait_until(&mut drawing, until).timed_out() {
                return;
            }
        }
    }
}

impl Drop for Drawing {
    fn drop(&mut self) {
        let here = thread::current().id();
        self.0.drawing.lock().retain(|thread| *thread != here);
        self.0.ended.notify_all();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::{AtomicBool, Ordering};

    #[test]
    fn a_thread_that_draws_is_waited_for() {
        let ending = DrawingThreads::default();
        let (theirs, ready) = (ending.clone(), Arc::new(AtomicBool::new(false)));
        let over = ready.clone();
        let (begun, has_begun) = std::sync::mpsc::channel();
        thread::spawn(move || {
            theirs.draws();
            begun.send(()).ok();
            thread::sleep(Duration::from_millis(50));
            over.store(true, Ordering::Release);
        });
        has_begun.recv().ok();
        ending.wait();
        assert!(ready.load(Ordering::Acquire));
    }

    #[test]
    fn a_host_that_draws_itself_does_not_wait_for_itself() {
        let ending = DrawingThreads::default();
        ending.draws();
        ending.wait();
    }
}
