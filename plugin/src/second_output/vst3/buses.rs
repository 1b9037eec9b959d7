//! The event buses: one in, two out (VST 3, `ivstcomponent.h`).

#![allow(clippy::unnecessary_cast, reason = "the types of C enums differ from system to system")]

use super::api::Steinberg::Vst::BusDirections_::{kInput, kOutput};
use super::api::Steinberg::Vst::BusInfo_::BusFlags_::kDefaultActive;
use super::api::Steinberg::Vst::BusTypes_::{kAux, kMain};
use super::api::Steinberg::Vst::MediaTypes_::kEvent;
use super::api::Steinberg::Vst::{BusDirection, BusInfo, MediaType, String128};
use crate::second_output::{INPUT, OUTPUTS};

/// The names of the event buses of one way; none of another medium.
pub fn names(media: MediaType, way: BusDirection) -> &'static [&'static str] {
    const INPUTS: [&str; 1] = [INPUT];
    match (media == kEvent as i32, way) {
        (true, way) if way == kInput as i32 => &INPUTS,
        (true, way) if way == kOutput as i32 => &OUTPUTS,
        _ => &[],
    }
}

/// Whether it is the second output.
pub fn is_second(media: MediaType, way: BusDirection, index: i32) -> bool {
    (media, way, index) == (kEvent as i32, kOutput as i32, 1)
}

/// What there is to say of an event bus, if there is one. Hosts turn on by
/// themselves what is active by default, and the second output does nothing
/// until the player asks for it.
pub fn info(media: MediaType, way: BusDirection, index: i32) -> Option<BusInfo> {
    let name = names(media, way).get(usize::try_from(index).ok()?)?;
    Some(BusInfo {
        mediaType: media,
        direction: way,
        channelCount: 16,
        name: wide(name),
        busType: if index == 0 { kMain } else { kAux } as i32,
        flags: kDefaultActive as u32,
    })
}

/// A text as the format has it.
pub fn wide(name: &str) -> String128 {
    let mut room: String128 = [0; 128];
    let (letters, _end) = room.split_at_mut(127);
    for (place, letter) in letters.iter_mut().zip(name.encode_utf16()) {
        *place = letter;
    }
    room
}
