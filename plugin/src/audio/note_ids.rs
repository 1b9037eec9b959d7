//! Notes keep their ids.
//!
//! The framework's VST3 gives each note an id of its own making (nice-plug 0.4.2,
//! `VoiceID::id_or_fallback` falls back always), and its CLAP sends no choke.
//! Upstream: `id_or_fallback` would have to look whether there is an id, and
//! `try_send_event` to take `NoteEvent::Choke`. Until then the id of the event that
//! is being sent lies here, for the VST3's outlet to put in, and a choke is sent as
//! the end of a voice, which ours never is, for the CLAP's outlet to turn back.

use std::cell::Cell;

use nice_plug::prelude::NoteEvent;

thread_local! {
    static ID: Cell<i32> = const { Cell::new(NONE) };
}

/// A note without an id, in both formats.
const NONE: i32 = -1;

/// Sends an event with the id of its note. Real-time safe.
pub fn carrying<S, T>(event: NoteEvent<S>, send: impl FnOnce(NoteEvent<S>) -> T) -> T {
    let voice = event.voice_id().and_then(|voice| voice.id());
    ID.with(|id| id.set(voice.unwrap_or(NONE)));
    send(match event {
        NoteEvent::Choke { timing, voice_id, channel, key } => {
            NoteEvent::VoiceTerminated { timing, voice_id, channel, key }
        }
        event => event,
    })
}

/// The id of the event that is being sent. Real-time safe.
pub fn id() -> i32 {
    ID.with(Cell::get)
}
