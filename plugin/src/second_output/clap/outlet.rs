//! What leaves the plugin: the notes that are marked go to the second output.

#![allow(unsafe_code)]

use clap_sys::events::{
    CLAP_CORE_EVENT_SPACE_ID, CLAP_EVENT_NOTE_OFF, CLAP_EVENT_NOTE_ON, clap_event_header,
    clap_event_note, clap_output_events,
};

use crate::second_output::unmarked;

/// Hands an event on to the list in `ctx`. Real-time safe.
///
/// # Safety
/// As `events.h` asks; `ctx` must be a host's event list.
pub unsafe extern "C" fn try_push(
    list: *const clap_output_events,
    event: *const clap_event_header,
) -> bool {
    // SAFETY: `ctx` is the host's list, which outlives the block; the event is
    // whole, as its header says what it is and how long.
    unsafe {
        let host = (*list).ctx.cast_const().cast::<clap_output_events>();
        let Some(push) = (*host).try_push else { return false };
        match marked(event) {
            Some(note) => push(host, &raw const note.header),
            None => push(host, event),
        }
    }
}

/// The note as it is to leave, if it is for the second output.
///
/// # Safety
/// `event` must be a whole event of its kind.
unsafe fn marked(event: *const clap_event_header) -> Option<clap_event_note> {
    // SAFETY: every event begins with its header; a note of the core space is a
    // `clap_event_note` (`events.h`).
    unsafe {
        let header = *event;
        let note = header.space_id == CLAP_CORE_EVENT_SPACE_ID
            && matches!(header.type_, CLAP_EVENT_NOTE_ON | CLAP_EVENT_NOTE_OFF)
            && header.size as usize >= size_of::<clap_event_note>();
        if !note {
            return None;
        }
        let note = *event.cast::<clap_event_note>();
        let channel = unmarked(note.channel)?;
        Some(clap_event_note { channel, port_index: 1, ..note })
    }
}
