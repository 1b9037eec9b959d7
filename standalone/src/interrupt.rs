//! Ctrl-C, and the other ways in which a system asks a program to end.

use std::sync::OnceLock;
use std::sync::atomic::{AtomicBool, Ordering};

static ASKED: AtomicBool = AtomicBool::new(false);

/// From the first call on, Ctrl-C (and SIGTERM, SIGHUP) no longer ends the
/// program but makes this `true`, so that notes can be ended first.
pub fn asked_to_stop() -> bool {
    static WATCHING: OnceLock<()> = OnceLock::new();
    WATCHING.get_or_init(|| {
        // Where it cannot be caught, the system ends the program as always.
        let _ = ctrlc::set_handler(|| ASKED.store(true, Ordering::SeqCst));
    });
    ASKED.load(Ordering::SeqCst)
}
