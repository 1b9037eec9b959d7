//! A steady line through jittery ticks: a delay-locked loop.
//!
//! Source: F. Adriaensen, "Using a DLL to filter time", Linux Audio
//! Conference 2005: the second-order loop and its coefficients b = √2 ω and
//! c = ω², ω = 2π · bandwidth · period. The two bandwidths, and when to
//! change between them, are ours, by trial.

use core::f64::consts::{SQRT_2, TAU};

/// Bandwidth in hertz at the start and after a change of tempo.
const QUICK_HZ: f64 = 3.0;
/// Bandwidth in hertz once it runs steadily, through little jitter and much.
const STEADY_HZ: f64 = 0.25;
/// See [`STEADY_HZ`].
const CALM_HZ: f64 = 0.08;
/// Mean distance of a tick from the line, in seconds, that is much: that of
/// even jitter of ±5 ms.
const MUCH_S: f64 = 0.0025;
/// Ticks over which errors are averaged to notice a change of tempo.
const WATCHED: f64 = 6.0;
/// Ticks over which the jitter is measured.
const MEASURED: f64 = 48.0;
/// A mean error of more than this, in seconds, is a change and not jitter.
const CHANGE_S: f64 = 0.0025;
/// The same in mean distances of a tick from the line: the mean of so many
/// strays by a third of one, and four times as much is no chance.
const CHANGE: f64 = 1.45;

/// A filtered series of ticks.
#[derive(Clone, Copy, Debug)]
pub struct Filter {
    /// Filtered time of the last tick, seconds.
    last: f64,
    /// Predicted time of the next.
    next: f64,
    /// Filtered period, seconds.
    period: f64,
    mean_error: f64,
    /// Mean distance of a tick from the line, seconds.
    jitter: f64,
    bandwidth: f64,
    ticks: u32,
}

impl Filter {
    /// Starts at a tick at `at`, with a first guess of the period in seconds.
    pub fn new(at: f64, period: f64) -> Self {
        Self {
            last: at,
            next: at + period,
            period,
            mean_error: 0.0,
            jitter: 0.0,
            bandwidth: QUICK_HZ,
            ticks: 0,
        }
    }

    /// A tick came at `at`.
    pub fn tick(&mut self, at: f64) {
        self.ticks = self.ticks.saturating_add(1);
        if self.ticks == 1 {
            *self = Self { ticks: 1, ..Self::new(at, (at - self.last).clamp(0.001, 0.5)) };
            return;
        }
        let error = at - self.next;
        // A change of tempo is no jitter: a tick counts for three times the mean at most.
        let distance = error.abs().min(3.0 * self.jitter + 0.002);
        self.jitter += (distance - self.jitter) / MEASURED.min(f64::from(self.ticks));
        self.mean_error += (error - self.mean_error) / WATCHED;
        if self.mean_error.abs() > CHANGE_S.max(CHANGE * self.jitter) {
            self.bandwidth = QUICK_HZ;
            self.mean_error = 0.0;
        } else {
            let calm = if self.jitter > MUCH_S { CALM_HZ } else { STEADY_HZ };
            self.bandwidth = (self.bandwidth * 0.971).max(calm);
        }
        let omega = (TAU * self.bandwidth * self.period).min(0.7);
        self.last = self.next;
        self.next += SQRT_2 * omega * error + self.period;
        self.period = (self.period + omega * omega * error).clamp(0.001, 0.5);
    }

    /// Filtered time of the last tick, seconds.
    pub fn last(&self) -> f64 {
        self.last
    }

    /// Filtered seconds between ticks.
    pub fn period(&self) -> f64 {
        self.period
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_ticks_are_a_tempo() {
        let mut filter = Filter::new(10.0, 0.02);
        filter.tick(10.03);
        assert!((filter.period() - 0.03).abs() < 1e-9 && filter.last() == 10.03);
    }

    #[test]
    fn one_tick_that_is_far_away_is_little_jitter() {
        let mut filter = Filter::new(0.0, 0.02);
        (1..100).for_each(|tick| filter.tick(f64::from(tick) * 0.02));
        filter.tick(100.0 * 0.02 + 0.1);
        assert!(filter.jitter < 0.0001, "{}", filter.jitter);
    }
}
