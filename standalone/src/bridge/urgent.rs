//! Threads that must not wait for others: what the player plays before the
//! left hand, the left hand before everything else.

use thread_priority::ThreadPriority;

/// How urgent a thread is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Urgency {
    /// Passes on what the player plays.
    Through,
    /// Plays the left hand.
    Stage,
}

/// Makes the calling thread urgent, if the system lets us; else it stays as
/// it is (on Linux the user needs the right to real-time priority, which
/// audio groups have).
pub fn urgent(urgency: Urgency) {
    // Of 0..=99; a sound server is at 70 to 90 and must not wait for us.
    let level: u8 = match urgency {
        Urgency::Through => 50,
        Urgency::Stage => 40,
    };
    let Ok(level) = level.try_into() else { return };
    set(ThreadPriority::Crossplatform(level));
}

#[cfg(unix)]
fn set(priority: ThreadPriority) {
    use thread_priority::{
        RealtimeThreadSchedulePolicy, ThreadSchedulePolicy, set_thread_priority_and_policy,
        thread_native_id,
    };
    let policy = ThreadSchedulePolicy::Realtime(RealtimeThreadSchedulePolicy::Fifo);
    let _ = set_thread_priority_and_policy(thread_native_id(), priority, policy);
}

#[cfg(not(unix))]
fn set(_: ThreadPriority) {
    let _ = thread_priority::set_current_thread_priority(ThreadPriority::Max);
}
