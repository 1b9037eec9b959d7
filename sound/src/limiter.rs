//! Keeps the sum below full scale, gently.

/// Level up to which nothing is changed.
const KNEE: f32 = 0.7;

/// The highest level that comes out.
const CEILING: f32 = 0.98;

/// Seconds in which it lets go again.
const RELEASE_S: f32 = 0.12;

/// Turns both sides down together while the peak lies above the knee: a gain
/// that falls at once and rises slowly, so that nothing is ever cut flat.
pub struct Limiter {
    peak: f32,
    release: f32,
}

impl Limiter {
    /// At `rate` samples a second.
    pub fn new(rate: u32) -> Self {
        Self { peak: 0.0, release: (-1.0 / (RELEASE_S * rate as f32)).exp() }
    }

    /// Real-time safe. What comes out is within ±0.98 and finite.
    pub fn process(&mut self, left: &mut [f32], right: &mut [f32]) {
        for (left, right) in left.iter_mut().zip(right) {
            if !left.is_finite() || !right.is_finite() {
                (*left, *right) = (0.0, 0.0);
            }
            self.peak = left.abs().max(right.abs()).max(self.peak * self.release);
            if self.peak > KNEE {
                let room = CEILING - KNEE;
                let gain = (KNEE + room * ((self.peak - KNEE) / room).tanh()) / self.peak;
                *left *= gain;
                *right *= gain;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quiet_sound_is_untouched_and_loud_sound_stays_below_full_scale() {
        let mut limiter = Limiter::new(48_000);
        let wave = |n: usize, level: f32| (n as f32 * 0.05).sin() * level;
        let mut quiet: Vec<f32> = (0..4800).map(|n| wave(n, 0.69)).collect();
        let before = quiet.clone();
        limiter.process(&mut quiet, &mut vec![0.0; 4800]);
        assert_eq!(quiet, before);
        let mut loud: Vec<f32> = (0..4800).map(|n| wave(n, 8.0)).collect();
        let mut other: Vec<f32> = vec![f32::NAN; 4800];
        other[1..].fill(0.5);
        limiter.process(&mut loud, &mut other);
        // The last digit of a rounded product.
        let ceiling = CEILING + 1e-6;
        assert!(loud.iter().chain(&other).all(|x| x.abs() <= ceiling));
    }
}
