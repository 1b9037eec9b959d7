//! When our own code fails: end the notes, begin afresh, and give up only if
//! it fails again and again. Through does not pass here.

use std::cell::Cell;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Once;

use parking_lot::Mutex;

/// So many failures in [`WITHIN_S`] seconds and the left hand stays silent.
const MOST: usize = 3;
/// See [`MOST`].
const WITHIN_S: f64 = 10.0;

/// Counts failures.
#[derive(Debug, Default)]
pub struct Guard {
    failures: Vec<f64>,
}

/// What to do after a failure.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum After {
    /// Begin afresh.
    Again,
    /// It failed too often.
    GiveUp,
}

thread_local! {
    static WATCHED: Cell<bool> = const { Cell::new(false) };
}

/// What the last failure was, until it is told.
static LAST: Mutex<Option<String>> = Mutex::new(None);

/// From now on a failure in guarded work is not printed over the screen but
/// kept, to be told by [`last_failure`]. Failures elsewhere print as always.
pub fn keep_failures() {
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        let usual = std::panic::take_hook();
        std::panic::set_hook(Box::new(move |panic| {
            if WATCHED.get() {
                *LAST.lock() = Some(panic.to_string().replace('\n', " "));
            } else {
                usual(panic);
            }
        }));
    });
}

/// What failed last, once.
pub fn last_failure() -> Option<String> {
    LAST.lock().take()
}

impl Guard {
    /// Runs `work`, which may panic, at `now` seconds.
    pub fn run<T>(&mut self, now: f64, work: impl FnOnce() -> T) -> Result<T, After> {
        WATCHED.set(true);
        let done = catch_unwind(AssertUnwindSafe(work));
        WATCHED.set(false);
        done.map_err(|_| {
            self.failures.retain(|at| now - at < WITHIN_S);
            self.failures.push(now);
            if self.failures.len() >= MOST { After::GiveUp } else { After::Again }
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_failure_is_forgiven_and_three_in_a_row_are_not() {
        let mut guard = Guard::default();
        let mut fail = |now| guard.run(now, || -> () { panic!("on purpose") });
        assert_eq!(fail(0.0), Err(After::Again));
        assert_eq!(fail(20.0), Err(After::Again));
        assert_eq!(fail(21.0), Err(After::Again));
        assert_eq!(fail(22.0), Err(After::GiveUp));
        assert_eq!(guard.run(23.0, || 7), Ok(7));
    }
}
