//! What leaves the plugin: the notes that are marked go to the second output, a
//! key's pressure that came as MIDI leaves as MIDI, a choke as a choke (the framework
//! sends none; see `note_ids`), and values of parameters are the musician's.

#![allow(unsafe_code, reason = "CLAP is an interface in C")]

use std::ptr::null;

use clap_sys::events::{
    CLAP_CORE_EVENT_SPACE_ID, CLAP_EVENT_MIDI, CLAP_EVENT_NOTE_CHOKE, CLAP_EVENT_NOTE_END,
    CLAP_EVENT_NOTE_EXPRESSION, CLAP_EVENT_NOTE_OFF, CLAP_EVENT_NOTE_ON, CLAP_EVENT_PARAM_VALUE,
    clap_event_header, clap_event_midi, clap_event_note, clap_event_note_expression,
    clap_event_param_value, clap_output_events,
};

use super::inlet::AS_MIDI;
use super::params::ControlIds;
use crate::audio::mark::{unmarked, unmarked_control};

/// Stands before a list of the host's.
pub struct ClapOutlet<'a> {
    host: *const clap_output_events,
    ids: &'a ControlIds,
}

impl<'a> ClapOutlet<'a> {
    /// Before `host`, which may be null.
    pub fn new(host: *const clap_output_events, ids: &'a ControlIds) -> Self {
        Self { host, ids }
    }

    /// What the framework is given; it must not outlive this.
    pub fn list(&self) -> clap_output_events {
        let ctx = (&raw const *self).cast_mut().cast();
        clap_output_events { ctx, try_push: Some(try_push) }
    }

    /// The list, or null where the host has none.
    pub fn or_null(&self, list: &clap_output_events) -> *const clap_output_events {
        if self.host.is_null() { null() } else { list }
    }
}

/// Real-time safe.
unsafe extern "C" fn try_push(
    list: *const clap_output_events,
    event: *const clap_event_header,
) -> bool {
    // SAFETY: `ctx` is an outlet, before a list of the host's; the event is whole, as
    // its header says what it is and how long.
    unsafe {
        let outlet = &*(*list).ctx.cast_const().cast::<ClapOutlet<'_>>();
        let host = outlet.host;
        let Some(push) = (*host).try_push else { return false };
        if (*event).space_id != CLAP_CORE_EVENT_SPACE_ID {
            return push(host, event);
        }
        match (*event).type_ {
            CLAP_EVENT_NOTE_ON | CLAP_EVENT_NOTE_OFF => {
                let note = turned(*event.cast::<clap_event_note>());
                push(host, &raw const note.header)
            }
            CLAP_EVENT_MIDI => {
                let mut midi = *event.cast::<clap_event_midi>();
                if let Some(control) = control(midi.data) {
                    (midi.data[1], midi.port_index) = (control, 1);
                }
                push(host, &raw const midi.header)
            }
            CLAP_EVENT_NOTE_END => {
                let mut note = *event.cast::<clap_event_note>();
                note.header.type_ = CLAP_EVENT_NOTE_CHOKE;
                push(host, &raw const note.header)
            }
            CLAP_EVENT_NOTE_EXPRESSION => {
                match as_midi(&*event.cast::<clap_event_note_expression>()) {
                    Some(midi) => push(host, &raw const midi.header),
                    None => push(host, event),
                }
            }
            CLAP_EVENT_PARAM_VALUE => {
                let mut value = *event.cast::<clap_event_param_value>();
                value.value = value.value.round() + outlet.ids.lowest(value.param_id);
                push(host, &raw const value.header)
            }
            _ => push(host, event),
        }
    }
}

/// The controller of a message that is marked for the second output.
const fn control([status, number, _]: [u8; 3]) -> Option<u8> {
    if status & 0xF0 == 0xB0 { unmarked_control(number) } else { None }
}

/// The note at its output.
fn turned(note: clap_event_note) -> clap_event_note {
    match unmarked(note.channel) {
        Some(channel) => clap_event_note { channel, port_index: 1, ..note },
        None => note,
    }
}

/// The pressure as it came.
fn as_midi(pressure: &clap_event_note_expression) -> Option<clap_event_midi> {
    (pressure.note_id == AS_MIDI).then(|| clap_event_midi {
        header: clap_event_header {
            size: size_of::<clap_event_midi>() as u32,
            type_: CLAP_EVENT_MIDI,
            ..pressure.header
        },
        port_index: pressure.port_index as u16,
        data: [
            0xA0 | (pressure.channel as u8 & 0x0F),
            pressure.key as u8 & 0x7F,
            (pressure.value * 127.0).round().clamp(0.0, 127.0) as u8,
        ],
    })
}
