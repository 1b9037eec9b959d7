//! What a channel's pedals and controllers hold.

/// The controllers of one MIDI channel that a piano understands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PianoPedals {
    /// Controller 64: all dampers are up.
    pub sustain: bool,
    /// Controller 66: bit n says that key n's damper was up when it went down.
    pub sostenuto: u128,
    /// Controller 67: softer and darker strokes.
    pub soft: bool,
    volume: u8,
    expression: u8,
}

impl Default for PianoPedals {
    /// MIDI's own defaults: volume 100, expression 127 (RP-015 and General MIDI).
    fn default() -> Self {
        Self { sustain: false, sostenuto: 0, soft: false, volume: 100, expression: 127 }
    }
}

impl PianoPedals {
    /// Whether `key`'s damper stays up although the key is not down.
    pub fn hold(&self, key: u8) -> bool {
        self.sustain || self.sostenuto >> key & 1 == 1
    }

    /// Sets controller 7, channel volume.
    pub fn set_volume(&mut self, value: u8) {
        self.volume = value;
    }

    /// Sets controller 11, expression.
    pub fn set_expression(&mut self, value: u8) {
        self.expression = value;
    }

    /// What controllers 7 and 11 make of the level, 0..=1: by the square, as
    /// General MIDI level 2 recommends; never louder than the default.
    pub fn gain(&self) -> f32 {
        let volume = (f32::from(self.volume) / 100.0).min(1.0);
        let expression = f32::from(self.expression) / 127.0;
        (volume * expression).powi(2)
    }

    /// Controller 121: all but the volume goes back to its default.
    pub fn reset(&mut self) {
        *self = Self { volume: self.volume, ..Self::default() };
    }
}
