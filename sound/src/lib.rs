//! Sound to hear: an instrument turns messages into samples. Everything that
//! renders belongs to the audio world; files and speakers are the homes' matter.

#![forbid(unsafe_code)]

mod limiter;
mod loudness;
mod pedals;
mod piano;
mod player;
mod recordings;
mod voice;

use sinistra_core::engine::Message;
use sinistra_core::pitch::KeyNumber;

pub use limiter::Limiter;
pub use piano::Piano;
pub use player::{Cue, Player};
pub use recordings::{KEYS, Recording, decode};

/// Turns MIDI messages into stereo sound at a fixed sample rate.
pub trait Instrument: Send {
    /// Strikes a key; velocity 1..=127. Channel 0..=15.
    fn note_on(&mut self, channel: u8, key: KeyNumber, velocity: u8);

    /// Lets a key go; it sounds on while a pedal holds it.
    fn note_off(&mut self, channel: u8, key: KeyNumber);

    /// A MIDI 1.0 controller; at least sustain (64), all sound off (120) and
    /// all notes off (123) are understood.
    fn control(&mut self, channel: u8, controller: u8, value: u8);

    /// Overwrites both sides with the next samples, as many as the shorter
    /// side has; full scale is ±1, and loud chords may go beyond.
    fn render(&mut self, left: &mut [f32], right: &mut [f32]);

    /// Samples a second.
    fn rate(&self) -> u32;

    /// Whether nothing sounds any more, not even a tail.
    fn is_silent(&self) -> bool;

    /// Plays one message of the engine's or the player's.
    fn play(&mut self, message: Message) {
        match message {
            Message::On { channel, key, velocity } => self.note_on(channel, key, velocity),
            Message::Off { channel, key, .. } => self.note_off(channel, key),
            Message::Control { channel, controller, value } => {
                self.control(channel, controller, value);
            }
        }
    }
}

#[cfg(test)]
mod hearing;

#[cfg(all(test, debug_assertions))]
mod alloc {
    //! Any allocation inside `assert_no_alloc` fails the test (in release
    //! builds it lets everything pass).
    #[global_allocator]
    static ALLOCATOR: assert_no_alloc::AllocDisabler = assert_no_alloc::AllocDisabler;
}
