//! What the host has set a parameter to, until the block in which the processor is
//! told of it has come: the framework forgets it while it processes.

use std::sync::atomic::{AtomicBool, AtomicU32, Ordering::Relaxed};

use parking_lot::Mutex;

/// Parameters that may be set between two blocks; more are not remembered.
const MOST: usize = 256;
/// Blocks until the processor knows for sure: the one that was under way, the next.
const BLOCKS: u32 = 2;

/// Values by id, each with the count of blocks when it was set.
#[derive(Default)]
pub struct Remembered {
    set: Mutex<Vec<(u32, f64, u32)>>,
    blocks: AtomicU32,
    /// Whether the host processes: else the framework keeps what is set itself.
    processing: AtomicBool,
}

impl Remembered {
    /// A block has been processed. Real-time safe.
    pub fn pass(&self) {
        self.blocks.fetch_add(1, Relaxed);
    }

    /// The host begins to process, or has ended. Real-time safe.
    pub fn processes(&self, processing: bool) {
        self.processing.store(processing, Relaxed);
    }

    /// The host sets a parameter. Not for the audio thread.
    pub fn set(&self, id: u32, value: f64) {
        if !self.processing.load(Relaxed) {
            return;
        }
        let mut set = self.set.lock();
        let now = self.forget(&mut set);
        set.retain(|(other, ..)| *other != id);
        if set.len() < MOST {
            set.push((id, value, now));
        }
    }

    /// What the host has set it to, if that was just now. Not for the audio thread.
    pub fn value(&self, id: u32) -> Option<f64> {
        let mut set = self.set.lock();
        self.forget(&mut set);
        set.iter().find(|(other, ..)| *other == id).map(|(_, value, _)| *value)
    }

    /// A project is loaded: what was set before counts no more.
    pub fn clear(&self) {
        self.set.lock().clear();
    }

    fn forget(&self, set: &mut Vec<(u32, f64, u32)>) -> u32 {
        let now = self.blocks.load(Relaxed);
        set.retain(|(.., then)| now.wrapping_sub(*then) < BLOCKS);
        now
    }
}
