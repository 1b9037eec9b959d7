//! What the host sends, before the framework reads it: values of parameters counted
//! as the framework counts them, and a key's pressure that came as MIDI marked as
//! such, for it is to leave as MIDI.
//!
//! Upstream: `NoteEvent` would have to keep the dialect of an event.

#![allow(unsafe_code, reason = "CLAP is an interface in C")]

use std::cell::UnsafeCell;
use std::ptr::null;

use clap_sys::events::{
    CLAP_CORE_EVENT_SPACE_ID, CLAP_EVENT_MIDI, CLAP_EVENT_NOTE_EXPRESSION, CLAP_EVENT_PARAM_VALUE,
    CLAP_NOTE_EXPRESSION_PRESSURE, clap_event_header, clap_event_midi, clap_event_note_expression,
    clap_event_param_value, clap_input_events,
};

use super::params::ControlIds;

/// The note id of a key's pressure that came as MIDI; hosts count from 0.
pub const AS_MIDI: i32 = i32::MAX - 16;

/// The event that is read just now, where it is another one than came: the
/// framework takes in each before it asks for the next.
#[derive(Clone, Copy)]
union Now {
    value: clap_event_param_value,
    pressure: clap_event_note_expression,
    none: (),
}

/// Stands before a list of the host's.
pub struct Inlet<'a> {
    host: *const clap_input_events,
    ids: &'a ControlIds,
    now: UnsafeCell<Now>,
}

impl<'a> Inlet<'a> {
    /// Before `host`, which may be null.
    pub fn new(host: *const clap_input_events, ids: &'a ControlIds) -> Self {
        Self { host, ids, now: UnsafeCell::new(Now { none: () }) }
    }

    /// What the framework is given; it must not outlive this.
    pub fn list(&self) -> clap_input_events {
        let ctx = (&raw const *self).cast_mut().cast();
        clap_input_events { ctx, size: Some(size), get: Some(get) }
    }

    /// The list, or null where the host has none.
    pub fn or_null(&self, list: &clap_input_events) -> *const clap_input_events {
        if self.host.is_null() { null() } else { list }
    }
}

unsafe extern "C" fn size(list: *const clap_input_events) -> u32 {
    // SAFETY: `ctx` is an inlet, before a list of the host's.
    unsafe {
        let inlet = &*(*list).ctx.cast_const().cast::<Inlet<'_>>();
        (*inlet.host).size.map_or(0, |size| size(inlet.host))
    }
}

/// Real-time safe.
unsafe extern "C" fn get(list: *const clap_input_events, index: u32) -> *const clap_event_header {
    // SAFETY: `ctx` is an inlet, before a list of the host's; an event is what its
    // header says. What was given before is not looked at any more.
    unsafe {
        let inlet = &*(*list).ctx.cast_const().cast::<Inlet<'_>>();
        let Some(get) = (*inlet.host).get else { return null() };
        let event = get(inlet.host, index);
        if event.is_null() || (*event).space_id != CLAP_CORE_EVENT_SPACE_ID {
            return event;
        }
        let now = &mut *inlet.now.get();
        match (*event).type_ {
            CLAP_EVENT_PARAM_VALUE => {
                let mut value = *event.cast::<clap_event_param_value>();
                value.value -= inlet.ids.lowest(value.param_id);
                now.value = value;
                &raw const now.value.header
            }
            CLAP_EVENT_MIDI => match pressure(&*event.cast::<clap_event_midi>()) {
                Some(pressure) => {
                    now.pressure = pressure;
                    &raw const now.pressure.header
                }
                None => event,
            },
            _ => event,
        }
    }
}

/// A key's pressure (MIDI 1.0, `An kk vv`) as the framework would read it, marked.
fn pressure(midi: &clap_event_midi) -> Option<clap_event_note_expression> {
    let [status, key, value] = midi.data;
    (status & 0xF0 == 0xA0).then(|| clap_event_note_expression {
        header: clap_event_header {
            size: size_of::<clap_event_note_expression>() as u32,
            type_: CLAP_EVENT_NOTE_EXPRESSION,
            ..midi.header
        },
        expression_id: CLAP_NOTE_EXPRESSION_PRESSURE,
        note_id: AS_MIDI,
        port_index: midi.port_index as i16,
        channel: (status & 0x0F).into(),
        key: (key & 0x7F).into(),
        value: f64::from(value & 0x7F) / 127.0,
    })
}
