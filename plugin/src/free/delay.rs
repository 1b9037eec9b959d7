//! What the audio thread tells of the right hand's delay: for the window how
//! long it is, for the state by which tempo it was counted.

use std::sync::atomic::{AtomicU64, Ordering};

/// Two numbers that the audio thread writes now and then; wait-free.
#[derive(Default)]
pub struct DelayReport {
    /// Bits of an `f64`; 0 is none.
    seconds: AtomicU64,
    tempo: AtomicU64,
}

impl DelayReport {
    /// The delay in seconds, counted by `tempo`. Real-time safe.
    pub fn tell(&self, seconds: f64, tempo: Option<f64>) {
        self.seconds.store(seconds.to_bits(), Ordering::Relaxed);
        if let Some(tempo) = tempo {
            self.remember(tempo);
        }
    }

    /// A tempo from an earlier day, quarter notes a minute.
    pub fn remember(&self, tempo: f64) {
        if (1.0..=2000.0).contains(&tempo) {
            self.tempo.store(tempo.to_bits(), Ordering::Relaxed);
        }
    }

    /// In seconds; 0 is none.
    pub fn seconds(&self) -> f64 {
        f64::from_bits(self.seconds.load(Ordering::Relaxed))
    }

    /// The tempo by which it was counted last. Real-time safe.
    pub fn tempo(&self) -> Option<f64> {
        let tempo = f64::from_bits(self.tempo.load(Ordering::Relaxed));
        (tempo > 0.0).then_some(tempo)
    }
}
