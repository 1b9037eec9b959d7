//! The CLAP with a second note output, for a left hand that wants its own.
//!
//! The framework declares one note port each way and sends every event to port
//! 0 (nice-plug 0.4.2). Here the plugin that it made is handed to the host in a
//! wrapping of ours: `wrapping` answers for the ports and stands between the
//! plugin and the host's event list, where `outlet` turns what is marked
//! [`LEFT`] to the second output. Nothing here allocates while notes are played.

mod entry;
mod outlet;
mod ports;
mod wrapping;

use std::cell::Cell;

use nice_plug::midi::VoiceID;

/// Marks a note for the second output. CLAP's note ids are −1 or from 0 up
/// (`events.h`), and the framework lets no other in, so that nothing that the
/// player sends can carry it; VST3 notes leave without it.
pub const LEFT: VoiceID = VoiceID::ID(MARK);
const MARK: i32 = i32::MIN;

thread_local! {
    static BEING_MADE: Cell<bool> = const { Cell::new(false) };
}

/// Whether the plugin that this thread makes just now is a CLAP, and so has two
/// outputs.
pub fn being_made() -> bool {
    BEING_MADE.get()
}
