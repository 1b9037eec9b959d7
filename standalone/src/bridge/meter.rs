//! A histogram of how long things took: wait-free to count, read at the end.

use sinistra_core::maths;
use std::sync::atomic::{AtomicU32, AtomicU64, Ordering};
use std::time::Duration;

/// Eight buckets an octave, from 1 µs: each about 9 % wide.
const AN_OCTAVE: f64 = 8.0;
const BUCKETS: usize = 200;

/// Durations from 1 µs to half a minute.
pub struct Meter {
    buckets: [AtomicU32; BUCKETS],
    longest_ns: AtomicU64,
}

impl Default for Meter {
    fn default() -> Self {
        Self { buckets: [const { AtomicU32::new(0) }; BUCKETS], longest_ns: AtomicU64::new(0) }
    }
}

impl Meter {
    /// Counts one. Real-time safe.
    pub fn count(&self, took: Duration) {
        let micros = took.as_secs_f64() * 1e6;
        let bucket = bucket(micros);
        if let Some(bucket) = self.buckets.get(bucket.min(BUCKETS - 1)) {
            bucket.fetch_add(1, Ordering::Relaxed);
        }
        let nanos = u64::try_from(took.as_nanos()).unwrap_or(u64::MAX);
        self.longest_ns.fetch_max(nanos, Ordering::Relaxed);
    }

    /// How many were counted.
    pub fn total(&self) -> u64 {
        self.buckets.iter().map(|b| u64::from(b.load(Ordering::Relaxed))).sum()
    }

    /// The upper edge, in microseconds, of the bucket that holds the given
    /// part (0..=1) of all; 0 if none were counted.
    pub fn quantile_us(&self, part: f64) -> f64 {
        let wanted = maths::whole((self.total() as f64 * part).ceil()).unsigned_abs();
        let mut so_far = 0;
        for (at, bucket) in self.buckets.iter().enumerate() {
            so_far += u64::from(bucket.load(Ordering::Relaxed));
            if so_far >= wanted.max(1) {
                return ((at + 1) as f64 / AN_OCTAVE).exp2().min(self.longest_us());
            }
        }
        0.0
    }

    /// How many took longer than this, to the width of a bucket.
    pub fn over_us(&self, micros: f64) -> u64 {
        let from = bucket(micros) + 1;
        self.buckets.iter().skip(from).map(|b| u64::from(b.load(Ordering::Relaxed))).sum()
    }

    /// The longest, in microseconds.
    pub fn longest_us(&self) -> f64 {
        self.longest_ns.load(Ordering::Relaxed) as f64 / 1e3
    }

    /// For logs and figures.
    pub fn line(&self) -> String {
        format!(
            "{} counted, median {:.0} µs, 99 % {:.0} µs, 99.9 % {:.0} µs, longest {:.0} µs",
            self.total(),
            self.quantile_us(0.5),
            self.quantile_us(0.99),
            self.quantile_us(0.999),
            self.longest_us()
        )
    }
}

/// The bucket of so many microseconds.
fn bucket(micros: f64) -> usize {
    maths::count(maths::whole(micros.max(1.0).log2() * AN_OCTAVE))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_are_right_to_a_tenth() {
        let meter = Meter::default();
        for micros in 1..=1000 {
            meter.count(Duration::from_micros(micros));
        }
        for (part, expected) in [(0.5, 500.0), (0.99, 990.0), (0.999, 999.0)] {
            let got = meter.quantile_us(part);
            assert!((0.95..=1.1).contains(&(got / expected)), "{part}: {got}");
        }
        assert_eq!(meter.longest_us(), 1000.0);
        assert_eq!(Meter::default().quantile_us(0.5), 0.0);
    }
}
