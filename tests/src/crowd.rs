//! A crowded right hand: random chords, melody, pedal and controllers, the
//! same for the same seed.

use sinistra_core::engine::{Message, Timed};
use sinistra_core::pitch::KeyNumber;

/// The state of a player who never stops.
#[derive(Clone, Debug)]
pub struct Crowd {
    state: u64,
    down: u128,
    root: u8,
}

impl Crowd {
    /// The same seed plays the same.
    pub fn new(seed: u64) -> Self {
        Self { state: seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1, down: 0, root: 0 }
    }

    /// A number below `most`. Xorshift: Marsaglia, "Xorshift RNGs", 2003.
    pub fn below(&mut self, most: u64) -> u64 {
        self.state ^= self.state << 13;
        self.state ^= self.state >> 7;
        self.state ^= self.state << 17;
        (self.state >> 33) % most.max(1)
    }

    /// What happens in a block of `frames`.
    pub fn block(&mut self, frames: u32) -> Vec<Timed> {
        let mut events = Vec::new();
        if self.below(150) == 0 {
            self.change_chord(frames, &mut events);
        }
        if self.below(40) == 0 {
            // Melody, and now and then the player's own left hand.
            let lowest = if self.below(60) == 0 { 48 } else { 67 };
            let key = lowest + self.below(12) as u8;
            let velocity = 1 + self.below(127) as u8;
            let frame = self.below(frames.into()) as u32;
            events.push(self.press(frame, key, velocity));
        }
        if self.below(400) == 0 {
            let frame = self.below(frames.into()) as u32;
            let (controller, value) =
                [(64, 127), (64, 0), (66, 127), (66, 0), (1, 64), (123, 0)][self.below(6) as usize];
            events
                .push(Timed { frame, message: Message::Control { channel: 0, controller, value } });
        }
        events.sort_by_key(|event| event.frame);
        events
    }

    fn press(&mut self, frame: u32, key: u8, velocity: u8) -> Timed {
        self.down |= 1 << key;
        let key = KeyNumber::clamped(key.into());
        Timed { frame, message: Message::On { channel: 0, key, velocity } }
    }

    /// Lets go of everything and strikes a triad or seventh.
    fn change_chord(&mut self, frames: u32, events: &mut Vec<Timed>) {
        let frame = self.below(frames.into()) as u32;
        for key in (0..128u8).filter(|key| self.down >> key & 1 == 1) {
            let key = KeyNumber::clamped(key.into());
            events.push(Timed { frame, message: Message::off(0, key) });
        }
        self.down = 0;
        self.root = self.below(12) as u8;
        let shape: &[u8] =
            [&[0, 4, 7][..], &[0, 3, 7], &[0, 4, 7, 10], &[0, 3, 6]][self.below(4) as usize];
        for interval in shape {
            let key = 60 + (self.root + interval) % 12;
            let event = self.press(frame, key, 70);
            events.push(event);
        }
    }
}
