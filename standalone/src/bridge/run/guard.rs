//! When our own code fails: end the notes, begin afresh, and give up only if
//! it fails again and again. Through does not pass here.

use std::panic::{AssertUnwindSafe, catch_unwind};

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

impl Guard {
    /// Runs `work`, which may panic, at `now` seconds.
    pub fn run<T>(&mut self, now: f64, work: impl FnOnce() -> T) -> Result<T, After> {
        catch_unwind(AssertUnwindSafe(work)).map_err(|_| {
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
    #[allow(clippy::panic)]
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
