//! A thread that runs the stage by the monotonic clock, a millisecond ahead.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use rtrb::Consumer;

use super::guard::{After, Guard};
use super::player::Player;
use crate::bridge::intake::{Arrived, Shared};
use crate::bridge::meter::Meter;
use crate::bridge::outlet::Who;
use crate::bridge::stage::{Command, Due, Heard, MOST_HEARD, Stage, To};
use crate::bridge::urgent::{Urgency, urgent};

/// Frames a second: what a frame is worth when there is no sound card.
pub const RATE: f64 = 48_000.0;
/// A block is a millisecond: the left hand answers a chord within one.
const FRAMES: u32 = 48;
/// After this long with nothing to do, the thread sleeps until it is woken.
const IDLE_S: f64 = 0.3;
/// More than this behind, time that is lost is not made up.
const LOST_S: f64 = 0.25;

/// Sleep is late by what the system allows itself (50 µs on Linux): before a
/// note, so much is waited awake.
const AWAKE_S: f64 = 60e-6;

/// Which outlets (a bit each) hear what.
#[derive(Clone, Copy, Debug)]
pub struct Routes {
    /// The left hand.
    pub left: u64,
    /// The metronome.
    pub click: u64,
    /// MIDI clock.
    pub clock: u64,
}

/// What the thread needs.
pub struct Job {
    /// Stage and links.
    pub player: Player,
    /// Makes a fresh stage after a failure.
    pub again: Box<dyn FnMut(f64) -> Box<Stage> + Send>,
    /// What arrives, an input each.
    pub inputs: Vec<Consumer<Arrived>>,
    /// Outputs, second 0, and the meters.
    pub shared: Shared,
    /// Who hears what.
    pub routes: Routes,
    /// How late the left hand was sent.
    pub lateness: Arc<Meter>,
    /// Set when our own code failed.
    pub failed: Arc<AtomicBool>,
    /// Set to end the thread.
    pub quit: Arc<AtomicBool>,
}

/// Starts the thread.
///
/// # Errors
/// If the system has no thread left.
pub fn spawn(job: Job) -> Result<JoinHandle<()>, String> {
    std::thread::Builder::new()
        .name("stage".into())
        .spawn(move || {
            Run { job, guard: Guard::default(), at: 0.0, busy: 0.0, given_up: false }.run()
        })
        .map_err(|e| format!("cannot start a thread: {e}"))
}

struct Run {
    job: Job,
    guard: Guard,
    /// Where the next block starts, in seconds.
    at: f64,
    /// When there was last something to do.
    busy: f64,
    /// The stage failed too often: only what is owed is still sent.
    given_up: bool,
}

impl Run {
    fn run(mut self) {
        *self.job.shared.stage.lock() = Some(std::thread::current());
        urgent(Urgency::Stage);
        self.at = self.now();
        while !self.job.quit.load(Ordering::Acquire) {
            let heard = self.gather();
            let now = self.now();
            if !heard.is_empty() || self.job.player.stage.moves() || self.job.player.is_wanted() {
                self.busy = now;
            }
            if now - self.at > LOST_S {
                self.at = now;
            }
            self.block(&heard);
            let owing = self.flush();
            if now - self.busy > IDLE_S && !owing {
                self.job.player.look(now);
                std::thread::park_timeout(Duration::from_secs(1));
                self.at = self.now();
            } else {
                self.wait_until(self.at, 0.0);
            }
        }
        *self.job.shared.stage.lock() = None;
    }

    fn now(&self) -> f64 {
        self.job.shared.epoch.elapsed().as_secs_f64()
    }

    /// What came since the last block, in the order in which it came.
    fn gather(&mut self) -> arrayvec::ArrayVec<Heard, MOST_HEARD> {
        let mut heard = arrayvec::ArrayVec::new();
        for input in &mut self.job.inputs {
            while !heard.is_full() {
                let Ok(Arrived { at, message }) = input.pop() else { break };
                let _ = heard.try_push(Heard { at, frame: 0, message });
            }
        }
        heard.sort_by(|a: &Heard, b| a.at.total_cmp(&b.at));
        heard
    }

    fn block(&mut self, heard: &[Heard]) {
        let at = self.at;
        if self.given_up {
            self.at = at + f64::from(FRAMES) / RATE;
            return;
        }
        if self.job.shared.overflow.swap(false, Ordering::AcqRel) {
            let Self { job, .. } = self;
            job.player.stage.command(Command::LetGo, at, &mut job.player.sink);
        }
        let player = &mut self.job.player;
        let done = self.guard.run(at, || player.block(at, FRAMES, RATE, heard));
        if let Err(after) = done {
            return self.fail(after);
        }
        let mut due: arrayvec::ArrayVec<Due, 512> = arrayvec::ArrayVec::new();
        std::mem::swap(&mut due, &mut self.job.player.sink.due);
        for due in &due {
            let when = at + f64::from(due.frame) / RATE;
            self.wait_until(when, AWAKE_S);
            self.send(due);
            if due.to == To::Left {
                let late = (self.now() - when).max(0.0);
                self.job.lateness.count(Duration::from_secs_f64(late));
            }
        }
        self.at = at + f64::from(FRAMES) / RATE;
    }

    fn send(&self, due: &Due) {
        let route = match due.to {
            To::Left => self.job.routes.left,
            To::Click => self.job.routes.click,
            To::Clock => self.job.routes.clock,
        };
        for (at, outlet) in self.job.shared.outlets.iter().enumerate() {
            if route >> at & 1 == 1 {
                outlet.lock().send(Who::Sinistra, due.message.bytes());
            }
        }
    }

    /// Tries again what was refused. Whether something is still owed.
    fn flush(&self) -> bool {
        let mut owing = false;
        for outlet in self.job.shared.outlets.iter() {
            // Whoever holds it sends; through must not wait for us.
            owing |= outlet.try_lock().is_none_or(|mut outlet| !outlet.flush());
        }
        owing
    }

    fn fail(&mut self, after: After) {
        self.job.failed.store(true, Ordering::Release);
        for outlet in self.job.shared.outlets.iter() {
            outlet.lock().hush_left();
        }
        let now = self.now();
        self.at = now;
        let fresh = (self.job.again)(now);
        drop(self.job.player.exchange(fresh));
        // Through goes on in the inputs' threads.
        self.given_up = after == After::GiveUp;
    }

    /// Sleeps until `awake` seconds before `when`, and waits the rest awake.
    fn wait_until(&self, when: f64, awake: f64) {
        let until = self.job.shared.epoch + Duration::from_secs_f64(when.max(0.0));
        loop {
            let left = until.saturating_duration_since(Instant::now());
            if left.is_zero() {
                return;
            }
            match left.checked_sub(Duration::from_secs_f64(awake)) {
                Some(sleep) if !sleep.is_zero() => std::thread::sleep(sleep),
                _ => std::hint::spin_loop(),
            }
        }
    }
}
