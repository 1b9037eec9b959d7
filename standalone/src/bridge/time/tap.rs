//! Tap tempo: the tempo of the last few taps.

use arrayvec::ArrayVec;

/// A tap later than this, in seconds, begins anew (30 beats a minute).
const ANEW_S: f64 = 2.0;
/// Taps nearer than this are one: a pad that bounces (300 beats a minute).
const BOUNCE_S: f64 = 0.2;

/// The last taps.
#[derive(Clone, Debug, Default)]
pub struct Tap {
    times: ArrayVec<f64, 5>,
    count: u32,
}

impl Tap {
    /// A tap at `at` seconds. Gives the tempo in taps a minute from the
    /// second tap on: the middle one of the last four distances, so that one
    /// slip does not count.
    pub fn tap(&mut self, at: f64) -> Option<f64> {
        if let Some(last) = self.times.last().copied() {
            if at - last < BOUNCE_S {
                return None;
            }
            if at - last > ANEW_S {
                self.times.clear();
                self.count = 0;
            }
        }
        if self.times.is_full() {
            self.times.remove(0);
        }
        self.times.push(at);
        self.count = self.count.saturating_add(1);
        let pairs = self.times.iter().zip(self.times.iter().skip(1));
        let mut gaps: ArrayVec<f64, 4> = pairs.map(|(one, next)| next - one).collect();
        gaps.sort_by(f64::total_cmp);
        let last = gaps.len().checked_sub(1)?;
        let middle = [last / 2, last.div_ceil(2)].map(|n| gaps.get(n).copied().unwrap_or(1.0));
        Some(60.0 / ((middle[0] + middle[1]) / 2.0))
    }

    /// Taps in a row so far.
    pub fn count(&self) -> u32 {
        self.count
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn four_taps_half_a_second_apart_are_120() {
        let mut tap = Tap::default();
        assert_eq!(tap.tap(10.0), None);
        assert_eq!(tap.tap(10.5), Some(120.0));
        assert_eq!(tap.tap(10.51), None); // the pad bounced
        tap.tap(11.0);
        assert_eq!(tap.tap(11.5), Some(120.0));
        assert_eq!(tap.count(), 4);
    }

    #[test]
    fn one_slip_does_not_count_and_a_pause_begins_anew() {
        let mut tap = Tap::default();
        for at in [0.0, 0.5, 1.0, 1.6] {
            tap.tap(at);
        }
        let tempo = tap.tap(2.1).expect("a tempo");
        assert!((tempo - 120.0).abs() < 1.0, "{tempo}");
        assert_eq!(tap.tap(9.0), None);
        assert_eq!(tap.count(), 1);
    }
}
