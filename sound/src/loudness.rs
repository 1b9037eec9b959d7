//! How a stroke's velocity becomes level and brightness.

/// The velocity at which a recording sounds as it was recorded.
pub const AS_RECORDED: u8 = 80;

/// Level of a stroke; 1 at [`AS_RECORDED`]. Velocity 20 lies 20 dB below
/// velocity 80 and velocity 127 lies 7 dB above (by ear).
pub fn level(velocity: u8) -> f32 {
    (f32::from(velocity.clamp(1, 127)) / f32::from(AS_RECORDED)).powf(1.7)
}

/// Gain of the highs beside the lows: a hard stroke is brighter, a soft one
/// darker. 1 at [`AS_RECORDED`], 0.12 (−18 dB) at the softest, 1.7 (+5 dB)
/// at the hardest (by ear).
pub fn highs(velocity: u8) -> f32 {
    let velocity = f32::from(velocity.clamp(1, 127));
    let recorded = f32::from(AS_RECORDED);
    if velocity <= recorded {
        0.12 + 0.88 * ((velocity - 1.0) / (recorded - 1.0)).powf(1.3)
    } else {
        1.0 + 0.7 * (velocity - recorded) / (127.0 - recorded)
    }
}

/// Where the highs begin for a key, in hertz: some partials above its
/// fundamental, so that the fundamental itself is never filtered.
pub fn highs_from_hz(key: u8) -> f32 {
    (frequency_hz(key) * 5.0).clamp(700.0, 7_000.0)
}

/// Equal temperament, A4 = key 69 = 440 Hz (ISO 16, MIDI Tuning).
pub fn frequency_hz(key: u8) -> f32 {
    440.0 * ((f32::from(key) - 69.0) / 12.0).exp2()
}

/// Seconds in which a damper takes a note down by 60 dB; `None` for the top
/// notes, whose strings have no dampers (from about F♯6 up on a grand piano).
pub fn damper_s(key: u8) -> Option<f32> {
    // Heavy bass strings take longer to stop.
    (key < 90).then(|| 0.9 - 0.55 * (f32::from(key.saturating_sub(21)) / 68.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn harder_is_louder_and_brighter() {
        for velocity in 1..127 {
            assert!(level(velocity) < level(velocity + 1), "{velocity}");
            assert!(highs(velocity) < highs(velocity + 1), "{velocity}");
        }
        assert_eq!((level(AS_RECORDED), highs(AS_RECORDED)), (1.0, 1.0));
    }
}
