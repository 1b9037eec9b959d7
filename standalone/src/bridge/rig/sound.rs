//! The built-in sound as an output: the shipped piano, or a SoundFont.

use sinistra_core::engine::Message;
use sinistra_core::maths;
use sinistra_core::pitch::KeyNumber;

use crate::bridge::midi::{CONTROL, Short};
use crate::bridge::outlet::{Refused, Wire};
use crate::bridge::setup::SetupWords;
use crate::sound::{Feed, Speakers, Timbre, go_live};

/// Loudness when nothing is said, 0..=100: a piano that starts loud hurts.
pub const QUIET: u8 = 30;
/// Channel volume (MIDI 1.0, controller 7).
const VOLUME: u8 = 7;
/// Where the metronome's wood blocks are (General MIDI): first beat, others.
const DRUMS: u8 = 9;
const WOOD_ONE: u8 = 76;
const WOOD: u8 = 77;
/// What a piano has instead: its highest octave.
const PIANO: (i32, i32) = (103, 96);

/// Messages on their way to the speakers.
pub struct Sound(Feed);

/// Opens the speakers.
///
/// # Errors
/// If there is no sound device.
pub fn open(words: &SetupWords, timbre: &Timbre) -> Result<(Speakers, Sound), String> {
    let (speakers, mut feed) = go_live(timbre).map_err(|fault| fault.to_string())?;
    for message in volume(words) {
        feed.send(message);
    }
    Ok((speakers, Sound(feed)))
}

/// The wished loudness, as messages to every channel.
pub fn volume(words: &SetupWords) -> impl Iterator<Item = Message> {
    levels(words.volume.unwrap_or(QUIET)).filter_map(sounding)
}

/// So many percent of the loudest, said to every channel.
pub fn levels(percent: u8) -> impl Iterator<Item = Short> {
    let value = maths::seven_bits(f32::from(percent.min(100)) / 100.0);
    (0..16).map(move |channel| Short::channel_message(CONTROL, channel, VOLUME, value))
}

impl Sound {
    /// Real-time safe. False if there is no room.
    pub fn play(&mut self, message: Short) -> bool {
        sounding(message).is_none_or(|message| self.0.send(message))
    }
}

impl Wire for Sound {
    fn send(&mut self, _: u32, message: &[u8]) -> Result<(), Refused> {
        // System exclusive means nothing to a piano.
        let taken = Short::new(message).is_none_or(|message| self.play(message));
        if taken { Ok(()) } else { Err(Refused) }
    }
}

/// What a piano makes of a message, if anything.
pub fn sounding(message: Short) -> Option<Message> {
    let mut message = Message::read(message)?;
    if let Message::On { channel: DRUMS, key, .. } | Message::Off { channel: DRUMS, key, .. } =
        &mut message
    {
        *key = match key.number() {
            WOOD_ONE => KeyNumber::clamped(PIANO.0),
            WOOD => KeyNumber::clamped(PIANO.1),
            _ => return None, // a piano has no drums
        };
    }
    Some(message)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_click_is_a_high_key_and_other_drums_are_silent() {
        let of = |bytes: &[u8]| Short::new(bytes).and_then(sounding);
        let high = KeyNumber::clamped(103);
        assert_eq!(of(&[0x99, 76, 9]), Some(Message::On { channel: 9, key: high, velocity: 9 }));
        assert_eq!(of(&[0x89, 76, 9]), Some(Message::Off { channel: 9, key: high, velocity: 9 }));
        assert_eq!(of(&[0x99, 36, 9]), None);
        assert_eq!(of(&[0xF8]), None);
        let pedal = Message::Control { channel: 0, controller: 64, value: 127 };
        assert_eq!(of(&[0xB0, 64, 127]), Some(pedal));
    }
}
