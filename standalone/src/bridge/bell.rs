//! Wakes the thread that carries notes: by whoever has something for it, or
//! when its time comes. Who rings never waits, and takes no lock.

use std::time::Duration;

#[cfg(target_os = "linux")]
mod inner {
    use std::os::fd::OwnedFd;
    use std::time::Duration;

    use rustix::event::{EventfdFlags, PollFd, PollFlags, Timespec, eventfd, poll};

    /// A counter of the kernel's, which can be waited for to the nanosecond.
    pub struct Waiter(Option<OwnedFd>);

    impl Waiter {
        pub fn new() -> Self {
            Self(eventfd(0, EventfdFlags::NONBLOCK | EventfdFlags::CLOEXEC).ok())
        }

        pub fn ring(&self) {
            if let Some(counter) = &self.0 {
                let _ = rustix::io::write(counter, &1u64.to_ne_bytes());
            }
        }

        pub fn wait(&self, most: Duration) {
            let Some(counter) = &self.0 else { return std::thread::sleep(most) };
            let mut fds = [PollFd::new(counter, PollFlags::IN)];
            let most = Timespec {
                tv_sec: i64::try_from(most.as_secs()).unwrap_or(i64::MAX),
                tv_nsec: most.subsec_nanos().into(),
            };
            if poll(&mut fds, Some(&most)).is_ok_and(|rung| rung > 0) {
                let _ = rustix::io::read(counter, &mut [0u8; 8]);
            }
        }

        pub fn here(&self) {}
    }
}

#[cfg(not(target_os = "linux"))]
mod inner {
    use std::sync::OnceLock;
    use std::thread::Thread;
    use std::time::Duration;

    /// The system's own way to park a thread.
    pub struct Waiter(OnceLock<Thread>);

    impl Waiter {
        pub fn new() -> Self {
            Self(OnceLock::new())
        }

        pub fn ring(&self) {
            if let Some(thread) = self.0.get() {
                thread.unpark();
            }
        }

        pub fn wait(&self, most: Duration) {
            std::thread::park_timeout(most);
        }

        pub fn here(&self) {
            let _ = self.0.set(std::thread::current());
        }
    }
}

/// One thread waits, any may ring.
pub struct Bell(inner::Waiter);

impl Default for Bell {
    fn default() -> Self {
        Self(inner::Waiter::new())
    }
}

impl Bell {
    /// Wakes who waits, now or when it next would.
    pub fn ring(&self) {
        self.0.ring();
    }

    /// Waits until it is rung, at most so long.
    pub fn wait(&self, most: Duration) {
        if !most.is_zero() {
            self.0.wait(most);
        }
    }

    /// The calling thread is the one that will wait.
    pub fn here(&self) {
        self.0.here();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Arc;
    use std::time::Instant;

    #[test]
    fn a_bell_rung_before_or_while_it_is_waited_for_wakes_at_once() {
        let bell = Arc::new(Bell::default());
        bell.here();
        let start = Instant::now();
        bell.ring();
        bell.wait(Duration::from_secs(50));
        let other = Arc::clone(&bell);
        let rings = std::thread::spawn(move || {
            std::thread::sleep(Duration::from_millis(20));
            other.ring();
        });
        bell.wait(Duration::from_secs(50));
        rings.join().expect("rung");
        assert!(start.elapsed() < Duration::from_secs(40));
        bell.wait(Duration::from_millis(1)); // and nobody rings
    }
}
