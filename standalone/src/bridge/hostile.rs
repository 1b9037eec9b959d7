//! The bridge without a device or a file, for the fuzzers.

use std::sync::Arc;

use sinistra_core::midi::{KeyState, Short};

use super::midi::Stream;
use super::outlet::{Outlet, Refused, Wire};
use super::period::{Bridge, Time};
use super::run::{Links, links};
use super::set::roots;
use super::setup;
use super::stage::{Stage, StageOptions};
use super::time::PaceChoice;

/// Reads a set-up file's text; the words, or the fault as it is shown.
///
/// # Errors
/// What makes no sense in it, with its place.
pub fn set_up(text: &str) -> Result<(), String> {
    setup::read("set-up", text).map(|_| ())
}

/// What was sent, as far as it matters here: what sounds.
#[derive(Default)]
struct SoundingWire(KeyState);

impl Wire for SoundingWire {
    fn send(&mut self, _frame: u32, message: &[u8]) -> Result<(), Refused> {
        if let Some(message) = Short::new(message) {
            self.0.note(message);
        }
        Ok(())
    }
}

/// Plays what comes from a keyboard's cable, in periods of 128 frames at 48 kHz: each
/// piece of bytes in a period of its own, so many periods after the last. Ends it then
/// as a player does who leaves; how many keys still sound.
pub fn keyboards<'a>(pieces: impl Iterator<Item = (u8, &'a [u8])>) -> u32 {
    let time = PaceChoice { tempo: 120.0, ..PaceChoice::default() };
    let options = StageOptions { time, ..StageOptions::default() };
    let (player, _links): (_, Links) = links(Box::new(Stage::new(options, roots(), roots(), 0.0)));
    let (_spares, spare) = rtrb::RingBuffer::new(1);
    let (old, _home) = rtrb::RingBuffer::new(4);
    let mut bridge = Bridge::new(player, Arc::default(), Arc::default(), (spare, old));
    let (mut outlet, mut wire, mut stream) =
        (Outlet::default(), SoundingWire::default(), Stream::default());
    let mut n = 0u32;
    let mut period = |came: &[Vec<u8>], end: bool| {
        let time = Time { now: f64::from(n) * 128.0 / 48_000.0, frames: 128, rate: 48_000.0 };
        let last = came.len().max(1);
        let at = |k: usize| u32::try_from(k * 127 / last).unwrap_or(127);
        let came = came.iter().enumerate().map(|(k, message)| (at(k), message.as_slice()));
        bridge.period(time, came, (&mut outlet, &mut wire), end);
        n += 1;
    };
    for (rests, bytes) in pieces {
        for _ in 0..rests {
            period(&[], false);
        }
        let mut came = Vec::new();
        stream.read(bytes, |message| came.push(message.to_vec()));
        period(&came, false);
    }
    for _ in 0..4 {
        period(&[], true);
    }
    wire.0.count()
}
